"""Grids further below their cathodes than they may be."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Fail,
    Figure,
    Harm,
    Pass,
    Ratings,
    Stages,
    Verdicts,
    Warm,
    cite,
    rule,
    volt,
    weak,
)


@rule(
    title="A grid is too far below its cathode",
    harm=Harm.WEARS,
    why="""
        Between grid and cathode is a tenth of a millimetre. A data sheet that limits how negative a
        grid may be means that gap, and the mica beside it: they arc over. A bias supply before
        its tubes draw current, and a follower whose cathode is lifted while its grid is at ground,
        come to it. Judged are types that have the limit, by the dc.
    """,
    sources=[cite("tube-ratings")],
    states=("cold start, mains high", "warm, mains high"),
)
def negative_grid(stages: Stages, ratings: Ratings, warm: Warm, cold: ColdStart) -> Verdicts:
    for stage in stages.amplifying:
        part, grid, cathode = stage.part, stage.grid, stage.cathode
        rating = ratings.tube(part, "grid_negative_volts", stage.section)
        if rating is None or grid is None or grid == cathode:
            continue
        cases = [
            (max(0.0, -state.over(grid, cathode)), state)
            for state in (cold.steady, warm.high)
            if state.has(grid) and state.has(cathode)
            if not (state.floats(grid) or state.floats(cathode))
        ]
        if not cases:
            continue
        below, state = max(cases, key=lambda case: case[0])
        value = Figure(below, "V")
        rests_on = state.rests_on + weak(rating, f"the grid voltage a {part.spec.type} bears")
        if below <= rating.figure.value:
            yield Pass(part.subject, value, rating, state.name, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"the grid of {stage.name} stands {volt(below)} below its cathode, rated"
            f" {volt(rating.figure.value)}",
            remedy=f"a bias of {volt(rating.figure.value)} at the most, or a diode from cathode to grid"
            " where the cathode is lifted",
            value=value,
            limit=rating,
            state=state.name,
            rests_on=rests_on,
        )
