"""Output transformers with more dc in their primary than their core bears."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    States,
    Verdicts,
    amp,
    cite,
    kinds,
    known,
    rule,
)


@rule(
    title="An output transformer carries too much dc",
    harm=Harm.WEARS,
    why="""
        A single-ended transformer has a gap for a stated dc; past it the core saturates, the bass
        goes and the wire heats. A push-pull one has none, and bears only the small difference of
        its two halves. Driven to clipping a stage may draw more than at rest, or one half more than
        the other.
    """,
    sources=[cite("part-rating")],
    states=("warm, mains high", "every standing of the switches", "full drive"),
)
def output_transformer_current(design: Design, ratings: Ratings, states: States) -> Verdicts:
    for part in design.of(kinds.OutputTransformer):
        names = [f"{part.ref}.primary{half}" for half in ("", ".1", ".2")]
        coils = [name for name in names if states.knows(name)]
        if not coils:
            continue
        rating = known(ratings.stated, part, "primary.current", "A", "dc its primary is made for")
        if isinstance(rating, Open):
            yield rating
            continue
        # both halves run the same way round the core, so what they carry outward cancels
        carried = {
            state: abs(sum(state.mean_amperes(coil) for coil in coils)) for state in states.lasting
        }
        state = max(carried, key=lambda one: round(carried[one], 6))
        amperes = carried[state]
        value = Figure(amperes, "A")
        if amperes <= rating.figure.value:
            yield Pass(part.subject, value, rating, state.name, state.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"the primary of {part.ref} carries {amp(amperes)} dc, made for"
            f" {amp(rating.figure.value)}",
            remedy=f"a transformer for {amp(amperes)} dc or more, or less current in its tube",
            value=value,
            limit=rating,
            state=state.name,
            working=tuple(f"{coil}: {amp(abs(state.mean_amperes(coil)))}" for coil in coils),
            rests_on=state.rests_on,
        )
