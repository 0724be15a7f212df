"""Light-emitting diodes fed too hard, or reversed by the ac that feeds them."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    known,
    rule,
    volt,
)


@rule(
    title="A light-emitting diode is overloaded",
    harm=Harm.WEARS,
    why="""
        A pilot lamp run from a heater winding sees ac: its resistor sets the peak current, and in
        the other half cycle the whole voltage stands across it backward, where it bears about
        5 V. A diode the other way round across it takes that half cycle.
    """,
    sources=[cite("part-rating")],
    states=("warm, mains high",),
)
def led_current(design: Design, ratings: Ratings, warm: Warm) -> Verdicts:
    state = warm.high
    for part in design.of(kinds.Led):
        if not state.knows(part.ref):
            continue
        anode, cathode = part.ends["anode"], part.ends["cathode"]
        backward = max(0.0, -state.least(anode, cathode))
        for value, key, words, said, cure in (
            (
                Figure(state.peak_amperes(part.ref), "A"),
                "current",
                "rated current",
                amp,
                "a larger resistor in series with it, by {:.2g} times",
            ),
            (
                Figure(backward, "V"),
                "reverse",
                "reverse voltage rating",
                volt,
                "a silicon diode the other way round across it ({:.2g} times its rating now)",
            ),
        ):
            rating = known(ratings.stated, part, key, value.unit, words)
            if isinstance(rating, Open):
                if value.value > 0.7:  # what an opposite diode lets stand needs no rating
                    yield rating
                continue
            if value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, state.name, state.rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"{part.ref} sees {said(value.value)} "
                + ("at its peak" if key == "current" else "backward")
                + f", rated {said(rating.figure.value)}",
                remedy=cure.format(value.value / rating.figure.value),
                value=value,
                limit=rating,
                state=state.name,
                working=(f"mean current {amp(state.mean_amperes(part.ref))}",),
                rests_on=state.rests_on,
            )
