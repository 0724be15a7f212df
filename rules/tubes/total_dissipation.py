"""Tubes whose plate and screen together dissipate more than they may."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Pass,
    Ratings,
    Stages,
    States,
    Verdicts,
    Warm,
    cite,
    rule,
    watt,
    weak,
)


@rule(
    title="A tube dissipates too much in all",
    harm=Harm.OVERHEATS,
    why="""
        Some data sheets limit what plate and screen dissipate together, to less than the sum of
        what each may: the bulb has to lose it all. A tube connected as a triode meets that limit
        first, its screen taking its share of every volt. Judged are types that have it, idle and
        driven to clipping; past a design-center rating only when driven and with the mains high,
        the word is NOTICE.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems")],
    states=("warm, mains nominal or high by rating system", "full drive, mains high"),
)
def total_dissipation(stages: Stages, ratings: Ratings, warm: Warm, states: States) -> Verdicts:
    for stage in stages.amplifying:
        part, idle, name = stage.part, stage.rated_state(warm), stage.name
        rating = ratings.tube(part, "plate_screen_watts", stage.section)
        if rating is None or stage.screen is None:
            continue
        cases = [idle, *(state for state in states.driven if state.knows(name))]
        heats = [(state.watts(name) + state.screen_watts(name), state) for state in cases]
        heat, state = max(heats, key=lambda case: round(case[0], 6))
        value = Figure(heat, "W")
        rests_on = state.rests_on + weak(rating, f"what a {part.spec.type} may dissipate in all")
        if heat <= rating.figure.value:
            yield Pass(part.subject, value, rating, state.name, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{name} dissipates {watt(heat)} in all, rated {watt(rating.figure.value)}",
            remedy=f"more bias or a lower supply, until it dissipates {watt(rating.figure.value)}",
            value=value,
            limit=rating,
            state=state.name,
            working=(
                f"{watt(state.watts(name))} at its plate, {watt(state.screen_watts(name))} at its screen",
                f"{watt(heats[0][0])}: {idle.name}",
            ),
            rests_on=rests_on,
            harm=Harm.UNDERPERFORMS
            if stage.design_center and heats[0][0] <= rating.figure.value
            else None,
        )
