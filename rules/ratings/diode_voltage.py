"""Silicon rectifiers with too little reverse voltage or current rating."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
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
    limit,
    rule,
    volt,
    weak,
)


@rule(
    title="A rectifier diode is rated too low",
    harm=Harm.WEARS,
    why="""
        In a centre-tapped rectifier each diode sees the peak of the whole winding: the charged
        reservoir on one side, the other half cycle on the other. It is worst with no load and the
        mains high. Practice asks for half as much again, for spikes on the mains.
    """,
    sources=[cite("part-rating"), cite("diode-margin")],
    states=("cold start, mains high", "warm, mains high"),
)
def diode_voltage(design: Design, ratings: Ratings, warm: Warm, cold: ColdStart) -> Verdicts:
    margin = limit("diode-margin").figure.value
    for part in design.of(kinds.Diode, kinds.Bridge):
        legs = [name for leg in LEGS if cold.steady.knows(name := part.ref + leg)]
        if not legs:
            continue
        volts = max(cold.inverse_volts(leg) for leg in legs)
        # a bridge is rated by what comes out of it: both legs into its plus
        out = [leg for leg in legs if leg == part.ref or leg.endswith("+")]
        amperes = sum(warm.high.mean_amperes(leg) for leg in out)
        surge = max(cold.surge_amperes(leg) for leg in legs)
        for value, key, words, said, state, share in (
            (Figure(volts, "V"), "voltage", "reverse voltage rating", volt, cold.name, margin),
            (Figure(amperes, "A"), "current", "average current rating", amp, warm.high.name, 1.0),
            (Figure(surge, "A"), "surge", "surge rating", amp, cold.name, 1.0),
        ):
            rating = known(ratings.stated, part, key, value.unit, words)
            if isinstance(rating, Open):
                if key != "surge":  # small supplies never come near it
                    yield rating
                continue
            rests_on = warm.high.rests_on + weak(rating, f"the {words} of {part.ref}")
            if value.value * share <= rating.figure.value:
                yield Pass(part.subject, value, rating, state, rests_on)
                continue
            over = value.value > rating.figure.value
            yield Fail(
                about=part.subject,
                says=f"{part.ref} sees {said(value.value)}, {words} {said(rating.figure.value)}"
                + ("" if over else f", less than {margin:g} times that"),
                remedy=f"a diode rated {said(value.value * share)} or more",
                value=value,
                limit=rating,
                state=state,
                rests_on=rests_on,
                harm=None if over else Harm.UNDERPERFORMS,
            )


LEGS = ("", ".ac1+", ".ac2+", ".ac1-", ".ac2-")
