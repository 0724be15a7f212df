"""Tube types of which nothing is known."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Ratings, Verdicts, cite, kinds, rule


@rule(
    title="A tube type is not in the library",
    harm=Harm.WEARS,
    why="""
        Without its ratings, its pins and its current law a tube is judged by nothing: no
        dissipation, no voltage, no base. Every limit it may break stays unseen.
    """,
    sources=[cite("tube-ratings")],
)
def unknown_type(design: Design, ratings: Ratings) -> Verdicts:
    for part in design.of(kinds.Tube):
        name = part.spec.type
        if part.tube is not None:
            yield Pass(about=part.subject)
            continue
        near = ratings.near_type(name)
        meant = f'write "{near}" if that is meant' if near else "write it as its data sheet does"
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is of type {name}, which is neither in the library nor in [tubes]",
            remedy=f'{meant}, or add [tubes."{name}"]: like = 1 known type and what differs, or the'
            " whole of its data sheet",
        )
