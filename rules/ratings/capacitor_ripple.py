"""Capacitors with more ripple current than they are made for."""

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
    weak,
)


@rule(
    title="A capacitor carries more ripple current than its rating",
    harm=Harm.WEARS,
    why="""
        The first reservoir takes the charge of every half cycle in one gulp, and its loss
        resistance is heated by the rms value of that, two or three times the dc taken out. An
        electrolytic that runs warm dries out: each 10 degC halves its life. Ratings hold at twice
        the mains frequency and the marked temperature.
    """,
    sources=[cite("part-rating"), cite("capacitor-ripple")],
    states=("warm, mains high", "every standing of the switches", "full drive"),
)
def capacitor_ripple(design: Design, ratings: Ratings, states: States) -> Verdicts:
    small = limit("any-electrolytic").figure.value
    for part in design.of(kinds.Capacitor):
        if part.spec.dielectric != "electrolytic" or not states.knows(part.ref):
            continue
        worst = states.amperes(part.ref)
        rating = known(ratings.stated, part, "ripple", "A", "ripple current rating")
        if isinstance(rating, Open):
            if worst.value > small:
                yield rating
            continue
        value = Figure(worst.value, "A")
        rests_on = worst.rests_on + weak(rating, f"the ripple current rating of {part.ref}")
        if value.value <= rating.figure.value:
            yield Pass(part.subject, value, rating, worst.state, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} carries {amp(value.value)} rms of ripple, rated"
            f" {amp(rating.figure.value)}",
            remedy=f"a capacitor rated {amp(value.value)} or more, or more resistance ahead of it",
            value=value,
            limit=rating,
            state=worst.state,
            rests_on=rests_on,
        )
