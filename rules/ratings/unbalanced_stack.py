"""Capacitors in series that nothing makes share their voltage."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Stacks,
    Verdicts,
    Warm,
    cite,
    known,
    ohm,
    rule,
    volt,
    weak,
    worst,
)

# R times C of a divider that carries ten times the leakage of its capacitor, which is 0.01 C V in
# A, F and V (common practice, no source).
SECONDS = 10.0


@rule(
    title="Nothing makes capacitors in series share the voltage",
    harm=Harm.WEARS,
    why="""
        Two capacitors of 350 V in series bear 700 V only if each takes its half. Capacitance
        decides that while they charge, leakage from then on, and leakage differs between two of
        a batch by more than their values do and drifts with heat and age. A resistor across each
        decides it. Without, the one that leaks least may come to bear nearly all of it.
    """,
    sources=[cite("series-capacitors"), cite("part-rating")],
    states=("cold start, mains high", "warm, mains high"),
)
def unbalanced_stack(stacks: Stacks, ratings: Ratings, warm: Warm, cold: ColdStart) -> Verdicts:
    for stack in stacks.loose:
        volts, state = worst(
            (abs(cold.net_volts(*stack.ends)), cold.name),
            (abs(warm.high.peak(*stack.ends)), warm.high.name),
        )
        asked = [known(ratings.stated, p, "voltage", "V", "rated voltage") for p in stack.parts]
        yield from (bound for bound in asked if isinstance(bound, Open))
        ratings_known = [bound for bound in asked if not isinstance(bound, Open)]
        if len(ratings_known) < len(asked):
            continue
        rating = min(ratings_known, key=lambda bound: bound.figure.value)
        first, *others = stack.parts
        names = " and ".join(part.ref for part in stack.parts)
        rests_on = warm.high.rests_on + weak(rating, f"the rated voltages of {names}")
        even = SECONDS / max(part.spec.value for part in stack.parts)
        if volts <= rating.figure.value:
            yield Pass(first.subject, Figure(volts, "V"), rating, state, rests_on)
            continue
        yield Fail(
            about=first.subject,
            says=f"nothing fixes how {names} share {volt(volts)}: one may come to bear most of it,"
            f" rated {volt(rating.figure.value)}",
            remedy=f"equal resistors of {ohm(even)} or less, one across each",
            value=Figure(volts, "V"),
            limit=rating,
            state=state,
            others=tuple(part.subject for part in others),
            rests_on=rests_on,
        )
