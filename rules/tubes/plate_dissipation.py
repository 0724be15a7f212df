"""Tubes whose plates dissipate more than they may."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Spread,
    Stages,
    Verdicts,
    Warm,
    amp,
    cite,
    known,
    limit,
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
        So it is where the drawing keeps within it and one build in twenty does not, tubes and
        parts being what they are; a design-center rating is held against any mains in tolerance.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems"), cite("builds")],
    states=("warm, mains high", "a thousand builds"),
)
def plate_dissipation(stages: Stages, ratings: Ratings, warm: Warm, spread: Spread) -> Verdicts:
    state, few = warm.high, limit("builds").figure.value
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
            drawn, most = sum(state.watts(name) for name in names), rating.figure.value
            passed = Pass(part.subject, Figure(drawn, "W"), rating, state.name, state.rests_on)
            if not spread.matters(drawn, most):
                yield passed
                continue
            builds = spread.nominal if stage.design_center else spread.high
            heats = builds.plate_watts(*names)
            share, over = builds.beyond(heats, most), drawn > most
            if share <= few and not over:
                yield passed
                continue
            heat, judged = (drawn, state) if over else (builds.band(heats).high, builds)
            nominal = sum(warm.nominal.watts(name) for name in names)
            bears = stage.design_center and nominal <= most
            across = state.volts(stage.plate) - state.volts(stage.cathode)
            often = builds.often(share)
            yield Fail(
                about=part.subject,
                says=f"{where} dissipates {watt(drawn)}, rated {watt(most)}"
                if over
                else f"{where} dissipates more than its {watt(most)} {often}",
                remedy="a cathode resistor or bias that brings it down by "
                f"{1.0 - most / heat:.0%}, or a lower supply",
                value=Figure(heat, "W"),
                limit=rating,
                state=judged.name,
                working=(
                    f"{stage.name}: {volt(across)} x {amp(state.mean_amperes(stage.name))}",
                    f"{watt(nominal)} at nominal mains",
                    f"more than {watt(most)} {often}, {builds.name}",
                ),
                rests_on=judged.rests_on,
                harm=Harm.UNDERPERFORMS if bears or not over else None,
            )
