"""Capacitors that hold a dangerous charge long after switch-off."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Datum,
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
        draw nothing, and so a bleeder has to do it by itself, however the switches stand and
        whichever fuse, choke or dropping resistor has opened.
    """,
    sources=[cite("discharge-time"), cite("touch-voltage"), cite("discharge-law")],
    states=("mains off, every switch position, each fuse blown, each choke or dropper open",),
)
def slow_discharge(off: OffStates) -> Verdicts:
    touch, hands_in = limit("touch-voltage"), limit("hands-in-voltage")
    allowed = limit("hands-in-time")
    for cap in off.capacitors:
        if abs(cap.start) <= touch.figure.value:
            continue
        wait, state = cap.slowest(hands_in.figure.value)
        if wait <= allowed.figure.value:
            yield Pass(
                about=cap.part.subject,
                value=Figure(wait, "s"),
                limit=allowed,
                state=state.name,
                rests_on=off.rests_on,
            )
            continue
        farads, start = cap.part.spec.value, abs(cap.start)
        enough = allowed.figure.value / (farads * math.log(start / hands_in.figure.value))
        lasting = (
            f"keeps {volt(abs(state.decay.volts_at(cap.part.ref, 1e6)))} for good"
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
                f"starts at {volt(start)}, holds {cap.joules:.3g} J",
                f"{volt(cap.left(10.0))} left after 10 s, {volt(cap.left(60.0))} after 60 s",
            ),
            rests_on=off.rests_on,
            remedy=f"a bleeder of {ohm(enough)} or less straight across {cap.part.ref}",
        )
