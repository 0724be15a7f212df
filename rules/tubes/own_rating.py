"""Tube types of the project that are given more than the library says they bear."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Ratings,
    Subject,
    Verdicts,
    cite,
    figure,
    kinds,
    rule,
)

NO_MOST = ("heater_warm_up_seconds", "regulator_amperes_least", "regulated_volts", "starting_volts")


@rule(
    title="A tube type is given more than its data sheet allows",
    harm=Harm.UNDERPERFORMS,
    why="""
        What a project writes of a tube in [tubes] is what the review goes by. Where it allows more
        than the library's figure for the type, or for the type it is like, every rule about that
        tube is that much milder. A later maker's sheet may well allow it; then it is cited.
    """,
    sources=[cite("tube-ratings")],
)
def own_rating(design: Design, ratings: Ratings) -> Verdicts:
    seen = set()
    for part in design.of(kinds.Tube):
        entry = ratings.own_entry(part)
        if part.tube is None or entry is None or part.tube.name in seen:
            continue
        seen.add(part.tube.name)
        name, shipped = entry
        about = Subject("tube type", name, ("tubes", name))
        generous = False
        for key, own in sorted(part.tube.limits.items()):
            known = ratings.shipped(shipped, key) if key not in NO_MOST else None
            value = Figure(own.value, own.unit)
            if known is None or own.value <= known.figure.value * (1.0 + 1e-9):
                continue
            generous = True
            words = key.replace("_", " ")
            yield Fail(
                about=about,
                says=f"{name} is given {words} of {figure(value)}, where the library has"
                f" {figure(known.figure)} for a {shipped}",
                remedy=f"hold it to {figure(known.figure)}, or cite the sheet that allows"
                f" {figure(value)} as its source",
                value=value,
                limit=known,
                others=(part.subject,),
            )
        if not generous:
            yield Pass(about=about)
