"""Resistors with more volts across them than their body bears."""

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
    States,
    Verdicts,
    cite,
    kinds,
    known,
    limit,
    rule,
    volt,
    weak,
)


@rule(
    title="A resistor sees more than its working voltage",
    harm=Harm.WEARS,
    why="""
        High resistances reach their voltage limit long before they are warm. Past it the film
        tracks and the value drifts. The worst moment is often the first one, while tubes are cold
        and the supply stands at its peak. Bleeders are judged by a rule of their own.
    """,
    sources=[cite("part-rating"), cite("resistor-volts"), cite("any-resistor")],
    states=(
        "cold start, mains high",
        "warm, mains high",
        "every standing of the switches",
        "full drive",
    ),
)
def resistor_voltage(design: Design, ratings: Ratings, states: States, cold: ColdStart) -> Verdicts:
    bears = limit("any-resistor").figure.value
    for part in design.of(kinds.Resistor):
        if part.ref in cold.bleeders or len(set(part.ends.values())) != 2:
            continue
        a, b = part.ends.values()
        worst = states.volts(a, b)
        volts = worst.value
        rating = known(ratings.resistor_volts, part)
        if isinstance(rating, Open):
            if volts > bears:
                yield rating
            continue
        rests_on = worst.rests_on + weak(rating, f"the working voltage of {part.ref}")
        if volts <= rating.figure.value:
            yield Pass(part.subject, Figure(volts, "V"), rating, worst.state, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} sees {volt(volts)}, rated {volt(rating.figure.value)}",
            remedy=f"a resistor rated {volt(volts)} or more, or two of half the value in series",
            value=Figure(volts, "V"),
            limit=rating,
            state=worst.state,
            rests_on=rests_on,
        )
