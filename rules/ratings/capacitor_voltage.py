"""Capacitors charged beyond their rated voltage."""

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
    Stacks,
    Verdicts,
    Warm,
    cite,
    kinds,
    known,
    rule,
    volt,
    weak,
)


@rule(
    title="A capacitor sees more than its rated voltage",
    harm=Harm.WEARS,
    why="""
        Until the tubes conduct nothing loads the supply, and every smoothing and coupling
        capacitor stands at the full peak of the winding, at the highest mains. Ripple adds to it.
        An overcharged electrolytic leaks, heats and vents. A stated surge rating covers the start,
        not the running voltage. In series, resistors across them decide what each one takes.
    """,
    sources=[cite("capacitor-rating"), cite("part-rating")],
    states=("cold start, mains high", "warm, mains high"),
)
def capacitor_voltage(
    design: Design, ratings: Ratings, warm: Warm, cold: ColdStart, stacks: Stacks
) -> Verdicts:
    for part in design.of(kinds.Capacitor):
        if part.spec.safety_class is not None or len(set(part.ends.values())) != 2:
            continue  # made for the mains: another rule's
        if stacks.of(part.ref) is not None:
            continue  # nobody knows its share: another rule's
        rating = known(ratings.stated, part, "voltage", "V", "rated voltage")
        if isinstance(rating, Open):
            yield rating
            continue
        a, b = (part.ends[terminal] for terminal in part.spec.terminals())
        surge = rating
        if part.spec.surge is not None:
            surge = ratings.stated(part, "surge", "V", "surge voltage")
        cases = (
            (abs(cold.capacitor_volts(part.ref, a, b)), surge, cold.name),
            (abs(warm.high.peak(a, b)), rating, warm.high.name),
        )
        volts, bound, state = max(cases, key=lambda case: case[0] / case[1].figure.value)
        rests_on = warm.high.rests_on + weak(bound, f"the rated voltage of {part.ref}")
        if volts <= bound.figure.value:
            yield Pass(part.subject, Figure(volts, "V"), bound, state, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} sees {volt(volts)}, rated {volt(bound.figure.value)}",
            remedy=f"a capacitor rated {volt(volts)} or more",
            value=Figure(volts, "V"),
            limit=bound,
            state=state,
            working=tuple(f"{volt(seen)}: {when}" for seen, _bound, when in cases),
            rests_on=rests_on,
        )
