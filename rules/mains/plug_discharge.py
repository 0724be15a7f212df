"""Mains plugs that bite: capacitors across the mains without a way to discharge."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    MainsCapacitors,
    Pass,
    Verdicts,
    cite,
    farad,
    limit,
    ohm,
    rule,
    seconds,
    volt,
)


@rule(
    title="The pins of the plug stay charged",
    harm=Harm.FAULT_KILLS,
    why="""
        Pulled at the crest of the mains, a capacitor across line and neutral keeps that peak on the
        bare pins of the plug. Where the switch cuts off the transformer's primary nothing drains
        it but a resistor of its own.
    """,
    sources=[cite("plug-discharge"), cite("touch-voltage"), cite("discharge-law")],
    states=("plug pulled, mains high, every position of the mains switch",),
)
def plug_discharge(across: MainsCapacitors) -> Verdicts:
    touch, allowed = limit("touch-voltage").figure.value, limit("plug-discharge-time")
    small = limit("plug-capacitance")
    total = sum(part.spec.value for part in across.all)
    for part in across.all:
        if total <= small.figure.value:
            yield Pass(part.subject, Figure(total, "F"), small)
            continue
        wait, state = across.slowest(part.ref, touch)
        value = Figure(wait, "s")
        if wait <= allowed.figure.value:
            yield Pass(part.subject, value, allowed, state)
            continue
        # with a fifth in hand for the tolerance of the capacitors
        enough = 0.8 * allowed.figure.value / (total * math.log(across.start / touch))
        lasting = (
            "stays there for good"
            if math.isinf(wait)
            else f"takes {seconds(wait)} to fall to {volt(touch)}"
        )
        yield Fail(
            about=part.subject,
            says=f"{part.ref} holds up to {volt(across.start)} when the plug is pulled, which {lasting}",
            remedy=f"a resistor of {ohm(enough)} or less straight across {part.ref}, made for"
            f" {volt(across.start)}",
            value=value,
            limit=allowed,
            state=state,
            working=(f"{farad(total)} across the mains in all",),
        )
