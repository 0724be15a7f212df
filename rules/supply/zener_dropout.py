"""Zener diodes that let go when the mains is low."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    limit,
    rule,
)


@rule(
    title="A zener diode lets go when the mains is low",
    harm=Harm.UNDERPERFORMS,
    why="""
        A zener holds its voltage with the current that its load leaves it. With the mains low less
        comes through the resistor ahead of it, and when nothing is left it lets go: the voltage
        follows the mains, and ripple comes through. One that carries nothing at nominal mains is a
        clamp, and not meant.
    """,
    sources=[cite("zener-current")],
    states=("warm, mains low",),
)
def zener_dropout(design: Design, warm: Warm) -> Verdicts:
    least = limit("zener-current")
    for part in design.of(kinds.Zener):
        if not warm.nominal.knows(part.ref):
            continue
        usual = max(0.0, -warm.nominal.mean_amperes(part.ref))
        if usual < least.figure.value:
            continue
        left = Figure(max(0.0, -warm.low.mean_amperes(part.ref)), "A")
        if left.value >= least.figure.value:
            yield Pass(part.subject, left, least, warm.low.name, warm.low.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is left {amp(left.value)} with the mains low, and needs"
            f" {amp(least.figure.value)}",
            remedy="a smaller resistor ahead of it, by the share the mains falls, or a zener of"
            f" {1.0 - warm.mains['low'] / warm.mains['nominal']:.0%} fewer volts",
            value=left,
            limit=least,
            state=warm.low.name,
            working=(f"{amp(usual)} at nominal mains",),
            rests_on=warm.low.rests_on,
        )
