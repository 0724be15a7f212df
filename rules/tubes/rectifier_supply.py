"""Rectifier tubes with too large a first capacitor or too stiff a winding."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Rectifiers,
    Verdicts,
    cite,
    farad,
    known,
    ohm,
    rated,
    rule,
    volt,
    weak,
)


@rule(
    title="A rectifier tube is fed too hard",
    harm=Harm.WEARS,
    why="""
        At switch-on an empty first capacitor is a short circuit, and only the resistance of the
        windings stands before the plates. Data sheets give the largest first capacitor, and the
        least resistance for each plate; swapping in a larger capacitor kills rectifiers.
    """,
    sources=[cite("tube-ratings"), cite("rectifier-source")],
)
def rectifier_supply(rectifiers: Rectifiers, ratings: Ratings) -> Verdicts:
    for rectifier in rectifiers.all:
        part = rectifier.part
        rating = known(ratings.of_tube, part, "first_capacitor_farads", "largest first capacitor")
        value = Figure(rectifier.first_farads, "F")
        if isinstance(rating, Open):
            yield rating
        elif value.value <= rating.figure.value * 1.001:
            rests_on = weak(rating, f"the largest first capacitor of a {part.spec.type}")
            yield Pass(part.subject, value, rating, rests_on=rests_on)
        else:
            yield Fail(
                about=part.subject,
                says=f"{part.ref} charges {farad(value.value)} straight from its cathode, at most"
                f" {farad(rating.figure.value)} for a {part.spec.type}",
                remedy=f"a first capacitor of {farad(rating.figure.value)} or less; the larger one"
                " behind the choke or resistor",
                value=value,
                limit=rating,
                others=rectifier.capacitors,
            )
        for feed in rectifier.feeds:
            least = part.tube.least_supply_ohms(feed.volts) if part.tube is not None else None
            if least is None:
                continue  # few data sheets give one
            bound = rated(least.value, "ohm", least.source, Basis(least.basis), most=False)
            value = Figure(feed.ohms, "ohm")
            rests_on = weak(bound, f"the least plate resistance of a {part.spec.type}")
            if feed.ohms >= least.value:
                yield Pass(part.subject, value, bound, rests_on=rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"{feed.stage.name} has {ohm(feed.ohms)} before its plate, at least"
                f" {ohm(least.value)} at {volt(feed.volts)}",
                remedy=f"a resistor of {ohm(least.value - feed.ohms)} ahead of each plate",
                value=value,
                limit=bound,
                working=(f"{feed.working} = {ohm(feed.ohms)}",),
                rests_on=rests_on,
            )
