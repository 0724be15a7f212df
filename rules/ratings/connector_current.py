"""Connectors whose contacts carry more than they are made for."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Conductors,
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    amp,
    cite,
    kinds,
    known,
    limit,
    rule,
)


@rule(
    title="A connector carries more current than its rating",
    harm=Harm.OVERHEATS,
    why="""
        A contact is a few points of metal on metal. Past its current they heat, the spring goes soft
        and makes them heat more; in the heater wiring each tenth of an ohm is missed by the tubes.
        Judged by the wires that end at each contact: power connectors that carry more than an
        ampere, and any other whose rating is stated. Two contacts in parallel count one by one.
    """,
    sources=[cite("part-rating"), cite("any-connector")],
    states=("warm, mains high", "every standing of the switches", "full drive"),
)
def connector_current(design: Design, ratings: Ratings, conductors: Conductors) -> Verdicts:
    least = limit("any-connector").figure.value
    for part in design.of(kinds.Connector):
        if part.spec.role != "power" and part.spec.current is None:
            continue
        found = [(conductors.through(f"{part.ref}.{name}"), name) for name in part.ends]
        carried = [(worst, name) for worst, name in found if worst is not None]
        if not carried:
            continue
        worst, contact = max(carried, key=lambda each: round(each[0].value, 9))
        if part.spec.current is None and worst.value <= least:
            continue
        rating = known(ratings.stated, part, "current", "A", "current a contact")
        value = Figure(worst.value, "A")
        rests_on = worst.rests_on + conductors.rests_on
        if isinstance(rating, Open):
            yield rating
        elif worst.value <= rating.figure.value:
            yield Pass(part.subject, value, rating, worst.state, rests_on)
        else:
            yield Fail(
                about=part.subject,
                says=f"{part.ref}.{contact} carries {amp(worst.value)} rms, rated"
                f" {amp(rating.figure.value)}",
                remedy=f"a connector of {amp(worst.value)} a contact or more, or"
                f" {-(-worst.value // rating.figure.value):.0f} contacts in parallel",
                value=value,
                limit=rating,
                state=worst.state,
                rests_on=rests_on,
            )
