"""Parts with nets and not one joint."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Realised, Verdicts, cite, rule


@rule(
    title="A part of the schematic is soldered to nothing",
    harm=Harm.WEARS,
    why="""
        A part that has its nets and no tie points was forgotten when the wiring was written
        down, and will be forgotten when it is soldered.
    """,
    sources=[cite("realise")],
)
def unsoldered_part(design: Design, realised: Realised) -> Verdicts:
    for ref in realised.unwired:
        part = design.parts[ref]
        nets = ", ".join(dict.fromkeys(part.ends.values()))
        yield Fail(
            about=part.subject,
            says=f"{ref} is soldered to nothing, and the schematic has it on {nets}",
            remedy=f"write its {len(part.ends)} tie points in [leads], or its wires in [wires]",
        )
