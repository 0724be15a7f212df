"""Tubes whose cathodes give more than they may."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Stages,
    States,
    Verdicts,
    Warm,
    amp,
    cite,
    known,
    rule,
)


@rule(
    title="A tube draws more cathode current than its rating",
    harm=Harm.WEARS,
    why="""
        A cathode gives a limited current for its whole life; past that the coating is stripped.
        Plate and screen current both come out of it. It is the limit a low supply voltage meets
        before the plate's dissipation does, and a class AB stage when it is driven: the mean over
        the cycle counts. Past a design-center rating only when driven and with the mains high, the
        word is NOTICE.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems")],
    states=("warm, mains nominal or high by rating system", "full drive, mains high"),
)
def cathode_current(stages: Stages, ratings: Ratings, warm: Warm, states: States) -> Verdicts:
    for stage in stages.amplifying:
        part, idle = stage.part, stage.rated_state(warm)
        rating = known(ratings.of_tube, part, "cathode_amperes", "cathode current", stage.section)
        if isinstance(rating, Open) and stage.screen is None:
            # of a triode both are one current
            rating = ratings.tube(part, "plate_amperes", stage.section) or rating
        if isinstance(rating, Open):
            yield rating
            continue
        rest = idle.cathode_amperes(stage.name)
        cases = [idle, *(state for state in states.driven if state.knows(stage.name))]
        state = max(cases, key=lambda one: round(one.cathode_amperes(stage.name), 6))
        drawn = Figure(state.cathode_amperes(stage.name), "A")
        if drawn.value <= rating.figure.value:
            yield Pass(part.subject, drawn, rating, state.name, state.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{stage.name} draws {amp(drawn.value)} from its cathode, rated"
            f" {amp(rating.figure.value)}",
            remedy=f"more bias, until it draws {amp(rating.figure.value)} or less"
            if rest > rating.figure.value
            else f"a load of {drawn.value / rating.figure.value:.2g} times the impedance",
            value=drawn,
            limit=rating,
            state=state.name,
            working=(f"{amp(rest)}: {idle.name}",),
            rests_on=state.rests_on,
            harm=Harm.UNDERPERFORMS
            if stage.design_center and rest <= rating.figure.value
            else None,
        )
