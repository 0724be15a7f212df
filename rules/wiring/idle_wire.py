"""Wires that lead nowhere."""

from __future__ import annotations

from coldcheck.lint.rulekit import Fail, Harm, Realised, Verdicts, cite, rule


@rule(
    title="A wire ends where nothing else is",
    harm=Harm.UNTIDY,
    why="""
        A wire to an empty lug is left over from a change, or is one lug away from where it
        should be. Either way the next reader asks what it is for.
    """,
    sources=[cite("realise")],
)
def idle_wire(realised: Realised) -> Verdicts:
    for link in realised.idle:
        yield Fail(
            about=link.subject,
            says=f"{link.name} runs from {link.a} to {link.b}, and at one end nothing else is",
            remedy="take 1 wire out, or solder to its empty end what belongs there",
        )
