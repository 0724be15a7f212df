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
        A plate past its rating glows, gives off gas and ends the tube's life early. Judged with
        the mains high. A design-center rating allows for that swing: past it with the mains high
        only, the word is NOTICE. Many circuits run at the limit by intent; few tubes thank them.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems")],
    states=("warm, mains high",),
)
def plate_dissipation(stages: Stages, ratings: Ratings, warm: Warm) -> Verdicts:
    state = warm.high
    for stage in stages.amplifying:
        part = stage.part
        twins = [twin.name for twin in stages.amplifying if twin.part.ref == part.ref]
        cases = [
            (
                stage.name,
                [stage.name],
                known(ratings.of_tube, part, "plate_watts", "plate watts", stage.section),
            )
        ]
        shared = ratings.tube(part, "plate_watts_both")
        if shared is not None and stage.name == twins[-1]:
            cases.append((f"{part.ref}, both sections,", twins, shared))
        for where, names, rating in cases:
            if isinstance(rating, Open):
                yield rating
                continue
            value = Figure(sum(state.watts(name) for name in names), "W")
            if value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, state.name, state.rests_on)
                continue
            nominal = sum(warm.nominal.watts(name) for name in names)
            bears = stage.design_center and nominal <= rating.figure.value
            across = state.volts(stage.plate) - state.volts(stage.cathode)
            yield Fail(
                about=part.subject,
                says=f"{where} dissipates {watt(value.value)}, rated {watt(rating.figure.value)}",
                remedy="a cathode resistor or bias that brings it down by "
                f"{1.0 - rating.figure.value / value.value:.0%}, or a lower supply",
                value=value,
                limit=rating,
                state=state.name,
                working=(
                    f"{stage.name}: {volt(across)} x {amp(state.mean_amperes(stage.name))}",
                    f"{watt(nominal)} at nominal mains",
                ),
                rests_on=state.rests_on,
                harm=Harm.UNDERPERFORMS if bears else None,
            )
