"""Inlets that carry more than they are rated for."""

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
    limit,
    rule,
)


@rule(
    title="The mains inlet is overloaded",
    harm=Harm.OVERHEATS,
    why="""
        All that the amplifier takes goes through two pins and their springs, and is rms: a rectifier
        takes it in gulps. The small two-pin inlets are made for 2.5 A, and so are their cords.
    """,
    sources=[cite("part-rating"), cite("any-inlet")],
    states=("warm, mains high", "every standing of the switches", "full drive"),
)
def inlet_current(design: Design, ratings: Ratings, states: States) -> Verdicts:
    least = limit("any-inlet")
    for part in design.of(kinds.Inlet):
        element = f"{part.ref}.L"
        if not states.knows(element):
            continue
        drawn = states.amperes(element)
        value = Figure(drawn.value, "A")
        if part.spec.current is None and value.value <= least.figure.value:
            yield Pass(part.subject, value, least, drawn.state, drawn.rests_on)
            continue
        rating = known(ratings.stated, part, "current", "A", "rated current")
        if isinstance(rating, Open):
            yield rating
        elif value.value <= rating.figure.value:
            yield Pass(part.subject, value, rating, drawn.state, drawn.rests_on)
        else:
            yield Fail(
                about=part.subject,
                says=f"{part.ref} carries {amp(value.value)} rms, rated {amp(rating.figure.value)}",
                remedy=f"an inlet and a cord rated {amp(value.value)} or more, as those of 10 A",
                value=value,
                limit=rating,
                state=drawn.state,
                rests_on=drawn.rests_on,
            )
