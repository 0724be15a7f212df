"""Capacitors across the mains that are not made to stand there."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    MainsCapacitors,
    Open,
    Pass,
    Ratings,
    Verdicts,
    cite,
    known,
    rule,
    volt,
    weak,
)


@rule(
    title="A capacitor across the mains is not of a class made for it",
    harm=Harm.FAULT_KILLS,
    why="""
        Spikes of a thousand volts ride on the mains. A class X capacitor bears them and fails
        without fire; an ordinary film capacitor, whatever dc voltage is printed on it, may short
        and burn. A dc rating is no ac rating: 400 V dc is not made for 230 V ac.
    """,
    sources=[cite("mains-capacitors"), cite("part-rating")],
    states=("mains nominal",),
)
def capacitor_class(design: Design, across: MainsCapacitors, ratings: Ratings) -> Verdicts:
    mains = design.document.site.mains.voltage
    for part in across.all:
        if part.spec.safety_class is None:
            nets = " and ".join(part.ends.values())
            yield Fail(
                about=part.subject,
                says=f"{part.ref} stands across the mains, between {nets}, and has no safety class",
                remedy=f"a capacitor of class X2 rated {volt(mains)} ac or more, with its"
                ' safety_class = "X2" written',
            )
            continue
        rating = known(ratings.stated, part, "voltage", "V", "rated ac voltage")
        if isinstance(rating, Open):
            yield rating
        elif rating.figure.value >= mains:
            rests_on = weak(rating, f"the rated voltage of {part.ref}")
            yield Pass(part.subject, Figure(mains, "V"), rating, "mains nominal", rests_on)
        else:
            yield Fail(
                about=part.subject,
                says=f"{part.ref} is rated {volt(rating.figure.value)} ac, the mains is {volt(mains)}",
                remedy=f"a capacitor of class {part.spec.safety_class} rated {volt(mains)} ac or more",
                value=Figure(mains, "V"),
                limit=rating,
                state="mains nominal",
            )
