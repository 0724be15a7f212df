"""Tubes whose plates dissipate more than they may."""

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
    amp,
    cite,
    known,
    rule,
    volt,
    watt,
)


@rule(
    title="A tube dissipates too much at its plate",
    harm=Harm.OVERHEATS,
    why="""
        A plate past its rating glows, gives off gas and ends the tube's life early. Design-center
        ratings are met at nominal mains, design-maximum ones with the mains high. Many circuits run
        at the limit by intent; few tubes thank them for it.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems")],
    states=("warm, mains nominal or high by rating system",),
)
def plate_dissipation(stages: Stages, ratings: Ratings, warm: Warm) -> Verdicts:
    both: dict[str, float] = {}
    for stage in stages.amplifying:
        part, state = stage.part, stage.rated_state(warm)
        heat = Figure(state.watts(stage.name), "W")
        both[part.ref] = both.get(part.ref, 0.0) + heat.value
        cases = [(heat, known(ratings.of_tube, part, "plate_watts", "plate watts", stage.section))]
        shared = ratings.tube(part, "plate_watts_both")
        if shared is not None and stage.section == len(part.tube.sections if part.tube else ()):
            cases.append((Figure(both[part.ref], "W"), shared))
        for value, rating in cases:
            if isinstance(rating, Open):
                yield rating
                continue
            if value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, state.name, state.rests_on)
                continue
            where = stage.name if value is heat else f"{part.ref}, both sections,"
            across = state.volts(stage.plate) - state.volts(stage.cathode)
            yield Fail(
                about=part.subject,
                says=f"{where} dissipates {watt(value.value)}, rated {watt(rating.figure.value)}",
                remedy="a cathode resistor or bias that brings it down by "
                f"{1.0 - rating.figure.value / value.value:.0%}, or a lower supply",
                value=value,
                limit=rating,
                state=state.name,
                working=(f"{volt(across)} x {amp(state.mean_amperes(stage.name))}",),
                rests_on=state.rests_on,
            )
