"""Zener diodes that dissipate more than their rating."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    known,
    rule,
    watt,
)


@rule(
    title="A zener diode dissipates too much",
    harm=Harm.OVERHEATS,
    why="""
        A zener takes the current that its load does not. Before the tubes draw any, and with the
        mains high, that is all of it. An overheated zener fails shorted.
    """,
    sources=[cite("part-rating")],
    states=("cold start, mains high", "warm, mains high"),
)
def zener_power(design: Design, ratings: Ratings, warm: Warm, cold: ColdStart) -> Verdicts:
    for part in design.of(kinds.Zener):
        if not warm.high.knows(part.ref):
            continue
        rating = known(ratings.stated, part, "power", "W", "power rating")
        if isinstance(rating, Open):
            yield rating
            continue
        state = max(warm.high, cold.steady, key=lambda state: state.watts(part.ref))
        heat = Figure(state.watts(part.ref), "W")
        if heat.value <= rating.figure.value:
            yield Pass(part.subject, heat, rating, state.name, state.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} dissipates {watt(heat.value)}, rated {watt(rating.figure.value)}",
            remedy=f"a zener of {watt(2.0 * heat.value)}, or a larger resistor ahead of it",
            value=heat,
            limit=rating,
            state=state.name,
            working=(f"{amp(state.rms_amperes(part.ref))} rms",),
            rests_on=state.rests_on,
        )
