"""Fuses that may not break the current a wall socket can give."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Fuses,
    Harm,
    MainsSide,
    Open,
    Pass,
    Verdicts,
    amp,
    cite,
    known,
    limit,
    rule,
    weak,
)


@rule(
    title="The mains fuse breaks less than a wall socket can give",
    harm=Harm.WEARS,
    why="""
        A dead short behind the fuse draws what the house wiring allows, hundreds of amperes. A
        glass fuse of low breaking capacity is sure of 35 A only and may burst and arc on. Practice
        varies: many amplifiers have glass fuses, behind the breaker of the house.
    """,
    sources=[cite("fuse-breaking"), cite("outlet-fault")],
)
def fuse_breaking(fuses: Fuses, mains: MainsSide) -> Verdicts:
    least = limit("outlet-fault-current")
    for part in fuses.all:
        if part.ref not in mains.line_fuses:
            continue
        breaks = known(fuses.breaking, part)
        if isinstance(breaks, Open):
            yield breaks
            continue
        rests_on = weak(breaks, f"the breaking capacity of {part.ref}")
        if breaks.figure.value >= least.figure.value:
            yield Pass(part.subject, breaks.figure, least, rests_on=rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is sure to break {amp(breaks.figure.value)} only, and a wall socket"
            f" can give some {amp(least.figure.value)}",
            remedy="a ceramic fuse of high breaking capacity (H, 1500 A)",
            value=breaks.figure,
            limit=least,
            working=(f"breaking capacity: {breaks.source.text}",),
            rests_on=rests_on,
        )
