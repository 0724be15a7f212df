"""Terminal strips with more voltage between neighbouring lugs than they bear."""

from __future__ import annotations

import itertools

from coldcheck.lint.rulekit import (
    Basis,
    Conductors,
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Verdicts,
    cite,
    kinds,
    limit,
    rated,
    rule,
    volt,
    weak,
)


@rule(
    title="A terminal strip has too much voltage between lugs",
    harm=Harm.WEARS,
    why="""
        Between two lugs stand a few millimetres of laminate, with flux and dust on it. Past what
        it bears a track burns in, and beside the mounting foot it burns to the chassis. Judged are
        neighbours, a foot being the chassis; the voltages are rms over a cycle, and so the dc.
    """,
    sources=[cite("part-rating"), cite("strip-volts")],
    states=(
        "cold start, mains high",
        "warm, mains high",
        "every standing of the switches",
        "driven",
    ),
)
def strip_voltage(design: Design, conductors: Conductors) -> Verdicts:
    usual = limit("strip-volts")
    for part in design.of(kinds.TerminalStrip):
        pairs = itertools.pairwise(range(1, part.spec.lugs + 1))
        found = [(conductors.between(f"{part.ref}.{a}", f"{part.ref}.{b}"), a, b) for a, b in pairs]
        known = [(worst, a, b) for worst, a, b in found if worst is not None]
        if not known:
            continue
        worst, a, b = max(known, key=lambda each: each[0].value)
        value, stated = Figure(worst.value, "V"), part.spec.voltage
        bound = (
            rated(stated, "V", f"rating of {part.ref}", Basis.DECLARED)
            if stated is not None
            else usual
        )
        if value.value <= bound.figure.value:
            rests_on = worst.rests_on + weak(bound, "the usual voltage of a tag strip")
            yield Pass(part.subject, value, bound, worst.state, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} has {volt(value.value)} between lugs {a} and {b}, and bears"
            f" {volt(bound.figure.value)}",
            remedy=f"leave 1 lug free between them, or a strip rated {volt(value.value)} or more",
            value=value,
            limit=bound,
            state=worst.state,
            rests_on=worst.rests_on,
        )
