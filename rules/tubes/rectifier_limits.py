"""Rectifier tubes that give more, or bear more, than they may."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Rectifiers,
    Verdicts,
    Warm,
    amp,
    cite,
    known,
    rule,
    volt,
    weak,
)


@rule(
    title="A rectifier tube is loaded beyond its rating",
    harm=Harm.WEARS,
    why="""
        A rectifier's cathode gives its current in gulps, and its plates see the whole winding
        backward. Past the ratings it strips its coating or arcs over, and takes the transformer
        along where the fuse is slow. Switched off and on again it is hot while its capacitors are
        empty: where the data sheet has a limit for that first gulp, it is judged.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems")],
    states=("warm, mains nominal or high by rating system", "cold start, mains high"),
)
def rectifier_limits(
    rectifiers: Rectifiers, ratings: Ratings, warm: Warm, cold: ColdStart
) -> Verdicts:
    for rectifier in rectifiers.all:
        part, names = rectifier.part, [stage.name for stage in rectifier.stages]
        state = rectifier.stages[0].rated_state(warm)
        dc = sum(state.mean_amperes(name) for name in names)
        peak = max(state.peak_amperes(name) for name in names)
        back = max(cold.inverse_volts(name) for name in names)
        rush = max(cold.surge_amperes(name) for name in names)
        for value, key, words, said, when in (
            (Figure(dc, "A"), "dc_amperes", "dc output", amp, state.name),
            (Figure(peak, "A"), "plate_peak_amperes", "peak plate current", amp, state.name),
            (Figure(back, "V"), "peak_inverse_volts", "peak inverse volts", volt, cold.name),
            (
                Figure(rush, "A"),
                "plate_transient_amperes",
                "transient plate current",
                amp,
                cold.name,
            ),
        ):
            if key == "plate_transient_amperes" and ratings.tube(part, key) is None:
                continue  # few data sheets give one
            rating = known(ratings.of_tube, part, key, words)
            if isinstance(rating, Open):
                yield rating
                continue
            rests_on = state.rests_on + weak(rating, f"the {words} of a {part.spec.type}")
            if value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, when, rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"{part.ref}: {words} {said(value.value)}, rated {said(rating.figure.value)}",
                remedy=CURES[key].format(said(value.value)),
                value=value,
                limit=rating,
                state=when,
                rests_on=rests_on,
            )


CURES = {
    "dc_amperes": "a rectifier for {} or more, or less load",
    "plate_peak_amperes": "a smaller first capacitor, or a resistor ahead of each plate ({} now)",
    "plate_transient_amperes": "a smaller first capacitor, or a resistor ahead of each plate ({} now)",
    "peak_inverse_volts": "a rectifier for {} or more, or a lower winding",
}
