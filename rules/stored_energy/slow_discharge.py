"""Capacitors that hold a dangerous charge long after switch-off."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    OffStates,
    Pass,
    Verdicts,
    cite,
    limit,
    ohm,
    rule,
    seconds,
    volt,
)


@rule(
    title="A capacitor stays charged too long after switch-off",
    harm=Harm.FAULT_KILLS,
    why="""
        The plug is out and a hand goes in. A reservoir keeps its voltage until a fixed
        resistance has drained it. Tubes are not counted as a path: cold, worn or pulled they
        draw nothing, and so a bleeder has to do it by itself, however the switches stand,
        whichever fuses have blown and whichever one choke or dropping resistor has opened: it
        belongs on the capacitor's side of them all. Bias supplies are judged alike.
    """,
    sources=[
        cite("discharge-time"),
        cite("touch-voltage"),
        cite("stored-energy"),
        cite("touchable-charge"),
        cite("discharge-law"),
    ],
    states=("mains off, every switch position, any fuses blown, one choke or dropper open",),
)
def slow_discharge(off: OffStates) -> Verdicts:
    touch, hands_in = limit("touch-voltage"), limit("hands-in-voltage")
    allowed, much = limit("hands-in-time"), limit("stored-energy")
    small, charge = limit("touchable-capacitance"), limit("touchable-charge")
    for cap in off.capacitors:
        if abs(cap.start) <= touch.figure.value:
            continue
        wait, state = cap.slowest(hands_in.figure.value)
        farads, start = cap.farads(state), abs(cap.start)
        if cap.part.spec.value < 0.01 * farads:
            continue  # a coupling capacitor goes with the reservoir it hangs on
        if farads <= small.figure.value and farads * start <= charge.figure.value:
            yield Pass(cap.part.subject, Figure(farads, "F"), small, rests_on=cap.rests_on)
            continue
        if wait <= allowed.figure.value:
            yield Pass(
                about=cap.part.subject,
                value=Figure(wait, "s"),
                limit=allowed,
                state=state.name,
                rests_on=cap.rests_on,
            )
            continue
        # with a fifth in hand for the tolerance of the capacitors
        enough = 0.8 * allowed.figure.value / (farads * math.log(start / hands_in.figure.value))
        lasting = (
            f"keeps {volt(abs(state.volts_at(cap.part.ref, 1e6)))} for good"
            if math.isinf(wait)
            else f"takes {seconds(wait)} to fall to {volt(hands_in.figure.value)}"
        )
        yield Fail(
            about=cap.part.subject,
            says=f"{cap.part.ref} is charged to {volt(start)} and {lasting} after switch-off",
            value=Figure(wait, "s"),
            limit=allowed,
            state=state.name,
            working=(
                f"starts at {volt(start)}, holds {cap.joules:.3g} J; {farads * 1e6:.3g} uF hang on it",
                f"{volt(cap.left(10.0))} left after 10 s, {volt(cap.left(60.0))} after 60 s",
            ),
            rests_on=cap.rests_on,
            exceeds=wait / allowed.figure.value * max(1.0, cap.joules / much.figure.value),
            remedy=f"a bleeder of {ohm(enough)} or less straight across {cap.part.ref}",
        )
