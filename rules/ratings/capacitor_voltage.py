"""Capacitors charged beyond their rated voltage."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Stacks,
    States,
    Verdicts,
    WarmUp,
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
        not the running voltage. Behind an indirectly heated rectifier that peak comes only with tubes
        pulled or worn. In series, resistors across them decide what each one takes.
    """,
    sources=[cite("capacitor-rating"), cite("part-rating")],
    states=(
        "cold start, mains high",
        "warm, mains high",
        "every standing of the switches",
        "full drive",
    ),
)
def capacitor_voltage(
    design: Design, ratings: Ratings, states: States, warm_up: WarmUp, stacks: Stacks
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
        cases = tuple(zip(states.charge(part.ref, a, b), (surge, rating), strict=True))
        worst, bound = max(cases, key=lambda case: case[0].value / case[1].figure.value)
        volts = worst.value
        rests_on = cases[-1][0].rests_on + weak(bound, f"the rated voltage of {part.ref}")
        if volts <= bound.figure.value:
            yield Pass(part.subject, Figure(volts, "V"), bound, worst.state, rests_on)
            continue
        harm, sees, when = None, "sees", ""
        if worst is cases[0][0] and cases[1][0].value <= rating.figure.value:
            slow = warm_up.slow(a) or warm_up.slow(b)
            if slow and abs(warm_up.highest(a, b)[0]) <= bound.figure.value:
                harm, sees = Harm.UNDERPERFORMS, "would see"
                when = ", with tubes pulled or slower to warm than their rectifier"
        yield Fail(
            about=part.subject,
            says=f"{part.ref} {sees} {volt(volts)}, rated {volt(bound.figure.value)}{when}",
            remedy=f"a capacitor rated {volt(volts)} or more",
            value=Figure(volts, "V"),
            limit=bound,
            state=worst.state,
            working=tuple(f"{volt(seen.value)}: {seen.state}" for seen, _bound in cases),
            rests_on=rests_on,
            harm=harm,
        )
