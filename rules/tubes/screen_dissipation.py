"""Tubes whose screens dissipate more than they may."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Stages,
    Verdicts,
    Warm,
    cite,
    known,
    rule,
    volt,
    watt,
)


@rule(
    title="A tube dissipates too much at its screen",
    harm=Harm.OVERHEATS,
    why="""
        A screen is a few turns of fine wire and melts long before the plate glows. Idle is judged,
        with the mains high; past a design-center rating there only, the word is NOTICE. Full drive
        asks more of it, and a resistor ahead of the screen keeps that in bounds.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems")],
    states=("warm, mains high",),
)
def screen_dissipation(stages: Stages, ratings: Ratings, warm: Warm) -> Verdicts:
    for stage in stages.amplifying:
        if stage.screen is None or stage.screen == stage.plate:
            continue
        part, state = stage.part, warm.high
        rating = known(ratings.of_tube, part, "screen_watts", "screen watts", stage.section)
        if isinstance(rating, Open):
            yield rating
            continue
        heat = Figure(state.screen_watts(stage.name), "W")
        if heat.value <= rating.figure.value:
            yield Pass(part.subject, heat, rating, state.name, state.rests_on)
            continue
        nominal = warm.nominal.screen_watts(stage.name)
        bears = stage.design_center and nominal <= rating.figure.value
        across = state.volts(stage.screen) - state.volts(stage.cathode)
        yield Fail(
            about=part.subject,
            says=f"the screen of {stage.name} dissipates {watt(heat.value)}, rated"
            f" {watt(rating.figure.value)}",
            remedy="a lower screen voltage, by about "
            f"{1.0 - (rating.figure.value / heat.value) ** 0.4:.0%}, or more bias",
            value=heat,
            limit=rating,
            state=state.name,
            working=(f"{volt(across)} on the screen", f"{watt(nominal)} at nominal mains"),
            rests_on=state.rests_on,
            harm=Harm.UNDERPERFORMS if bears else None,
        )
