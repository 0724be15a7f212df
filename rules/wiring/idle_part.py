"""Parts that are bought and connected to nothing."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Schematic, Verdicts, cite, rule

MERE_POINTS = ("terminal strip", "ground bus")


@rule(
    title="A part is in no net",
    harm=Harm.UNTIDY,
    why="""
        A part on the list that the schematic does not use is a leftover, or the schematic lacks
        a line. Nothing in the review judges it.
    """,
    sources=[cite("all-terminals")],
)
def idle_part(design: Design, schematic: Schematic) -> Verdicts:
    for part in schematic.design.parts.values():
        if part.spec.kind in MERE_POINTS:
            continue
        if part.ends:
            yield Pass(about=part.subject)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is in [parts] and in no net of {design.document.project.name}",
            remedy=f"1 line for {part.ref} in [schematic], or take it off the list",
        )
