"""Bleeders that burn out or break down, and leave a charge nobody expects."""

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
    cite,
    kinds,
    known,
    ohm,
    rule,
    volt,
    watt,
    weak,
)


@rule(
    title="A bleeder is loaded beyond its rating",
    harm=Harm.FAULT_KILLS,
    why="""
        A bleeder is all that stands between a charged capacitor and a hand, and it fails without a
        sign. It has to bear the highest voltage there is, before the tubes conduct and with the
        mains high, in power and in working voltage both.
    """,
    sources=[cite("part-rating"), cite("resistor-rating"), cite("resistor-volts")],
    states=("cold start, mains high",),
)
def bleeder_rating(design: Design, ratings: Ratings, cold: ColdStart) -> Verdicts:
    for part in design.of(kinds.Resistor):
        if part.ref not in cold.bleeders:
            continue
        one, other = part.ends.values()
        volts = abs(cold.net_volts(one, other))
        watts = cold.steady.watts(part.ref)
        held = (
            (known(ratings.resistor_watts, part), Figure(watts, "W"), watt, "takes"),
            (known(ratings.resistor_volts, part), Figure(volts, "V"), volt, "sees"),
        )
        for rating, value, words, does in held:
            if isinstance(rating, Open):
                yield rating
                continue
            rests_on = cold.rests_on + weak(rating, f"the rating of {part.ref}")
            if value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, cold.name, rests_on)
                continue
            share = value.value / rating.figure.value
            yield Fail(
                about=part.subject,
                says=f"bleeder {part.ref} {does} {words(value.value)}, rated {words(rating.figure.value)}",
                remedy=f"{_count(share)} resistors of {ohm(part.spec.value / _count(share))} in series",
                value=value,
                limit=rating,
                state=cold.name,
                working=(f"{volt(volts)} across {ohm(part.spec.value)}",),
                rests_on=rests_on,
            )


def _count(share: float) -> int:
    """How many in series bring each within its rating, at least two."""
    return max(2, int(share) + 1)
