"""Grid circuits of more resistance than the tube allows."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    GridLeaks,
    Harm,
    Limit,
    Open,
    Pass,
    Ratings,
    Stages,
    Verdicts,
    Warm,
    cite,
    ohm,
    rule,
    volt,
)

SLACK = 1.05
"""A resistor marked with the limit is off by as much, and a stopper or a tail stands behind it (our
choice)."""


@rule(
    title="A grid circuit has too much resistance",
    harm=Harm.WEARS,
    why="""
        A grid takes a trace of current, more as the tube ages and heats. Through too large a
        resistance that trace lifts the grid, the tube draws more, heats more, and runs away. With a
        cathode resistor the tube holds itself back, so more is allowed than with a fixed bias.
    """,
    sources=[cite("tube-ratings")],
    states=("warm, mains nominal",),
)
def grid_leak(stages: Stages, leaks: GridLeaks, ratings: Ratings, warm: Warm) -> Verdicts:
    state = warm.nominal
    for stage in stages.amplifying:
        ohms = leaks.ohms.get(stage.name, float("inf"))
        if stage.grid is None or ohms == float("inf"):
            continue  # a grid that leads nowhere is another rule's
        part, lifted = stage.part, state.volts(stage.cathode)
        bias = lifted - state.volts(stage.grid)
        own = lifted > 0.5 * bias > 0.0
        rating: Limit | None = None
        if own:
            rating = ratings.tube(part, "grid_leak_cathode_ohms", stage.section)
        fixed = ratings.tube(part, "grid_leak_fixed_ohms", stage.section)
        if rating is None and fixed is not None and (not own or ohms <= fixed.figure.value):
            rating = fixed  # what holds for fixed bias holds for a cathode resistor all the more
        how = "cathode bias" if own else "fixed bias"
        if rating is None:
            datum = f"the grid resistance {part.ref} bears with {how}"
            yield Open(part.subject, datum, (*part.path, "type"))
            continue
        value = Figure(ohms, "ohm")
        if ohms <= rating.figure.value * SLACK:
            yield Pass(part.subject, value, rating, state.name, leaks.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"the grid of {stage.name} has {ohm(ohms)} to ground, at most"
            f" {ohm(rating.figure.value)} with {how}",
            remedy=f"a grid leak that makes it {ohm(rating.figure.value)} or less",
            value=value,
            limit=rating,
            state=state.name,
            working=(f"bias {volt(bias)}, cathode at {volt(lifted)}",),
            rests_on=leaks.rests_on,
        )
