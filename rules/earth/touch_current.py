"""Class Y capacitors that let more through to earth than may go through a hand."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    MainsSide,
    Pass,
    Schematic,
    Verdicts,
    amp,
    cite,
    farad,
    kinds,
    limit,
    rule,
)


@rule(
    title="Capacitors to earth let too much current through",
    harm=Harm.FAULT_KILLS,
    why="""
        What class Y capacitors pass goes down the earth wire, and through whoever touches the
        chassis once that wire has come off in the plug. Those on one pole add up; in a turned
        plug either pole is the live one.
    """,
    sources=[cite("touch-current"), cite("isolation")],
    states=("mains high",),
)
def touch_current(design: Design, schematic: Schematic, side: MainsSide) -> Verdicts:
    mains, most = design.document.site.mains, limit("touch-current")
    to_earth = [
        part
        for part in design.of(kinds.Capacitor)
        if (part.spec.safety_class or "").startswith("Y")
        and len(part.ends) == 2
        and len(side.nets & set(part.ends.values())) == 1
    ]
    if not to_earth:
        return
    per_farad = 2.0 * math.pi * mains.frequency * mains.high
    line, neutral = (
        schematic.reach(pole, lambda section: section.body.value in ("fuse", "switch"))
        for pole in (side.line, side.neutral)
    )
    # what is on neither, behind an inrush limiter, is counted with both
    poles = [
        [part for part in to_earth if not set(part.ends.values()) & other]
        for other in (neutral, line)
    ]
    worst = max(poles, key=lambda parts: sum(part.spec.value for part in parts))
    farads = sum(part.spec.value for part in worst)
    about, value = worst[0].subject, Figure(per_farad * farads, "A")
    if value.value <= most.figure.value:
        yield Pass(about, value, most, "mains high")
        return
    names = " and ".join(part.ref for part in worst)
    yield Fail(
        about=about,
        says=f"{names} {'let' if len(worst) > 1 else 'lets'} {amp(value.value)} through to earth",
        remedy=f"class Y capacitors of {farad(most.figure.value / per_farad)} or less in all on"
        " each pole",
        value=value,
        limit=most,
        state="mains high",
        others=tuple(part.subject for part in worst[1:]),
        working=(f"2 pi x {mains.frequency:g} Hz x {mains.high:g} V x {farad(farads)}",),
    )
