"""Transistors that have much voltage and much current at one moment."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from coldcheck.lint.rulekit import (
    Basis,
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    States,
    Verdicts,
    amp,
    cite,
    kinds,
    rated,
    rule,
    volt,
)


@rule(
    title="A transistor leaves its safe operating area",
    harm=Harm.WEARS,
    why="""
        Neither voltage nor current nor mean heat is over its rating, and yet at switch-on a pass
        transistor has the whole supply across it while it fills the capacitors behind it. Part
        of the crystal then takes all of it, and melts within milliseconds. The area of the data
        sheet for dc is what each moment is held to; a first gulp of a few milliseconds may be
        allowed more. Where no area is stated volts times amperes are held to the power rating, and
        past that the area is asked for. Regulators with three legs guard themselves.
    """,
    sources=[cite("safe-area"), cite("part-rating")],
    states=(
        "cold start, mains high",
        "warm, mains high",
        "every standing of the switches",
        "full drive",
    ),
)
def safe_area(design: Design, states: States) -> Verdicts:
    for part in design.parts.values():
        spec = part.spec
        if not isinstance(spec, kinds.BipolarTransistor | kinds.Mosfet):
            continue
        area, power = spec.safe_area, spec.power
        if not (moments := list(states.moments(part.ref))):
            continue
        asked = Open(part.subject, f"the safe area of {part.ref}", (*part.path, "safe_area"))
        if area is not None:
            corners = area
        elif power is not None:
            corners = [(NOTHING, power / NOTHING), (MOST, power / MOST)]
        else:
            yield asked
            continue
        at, amperes = max(moments, key=lambda each: each[1] / _bears(corners, each[0].value))
        value, bears = Figure(amperes, "A"), _bears(corners, at.value)
        text = f"{'safe area' if area else 'power rating'} of {part.ref} at {volt(at.value)}"
        bound = rated(bears, "A", text, Basis.DECLARED)
        if amperes <= bears:
            yield Pass(part.subject, value, bound, at.state, at.rests_on)
        elif area is None:
            says = (
                f"{part.ref} has {volt(at.value)} and {amp(amperes)} at once, past its power rating"
            )
            yield asked._replace(says=says)
        else:
            yield Fail(
                about=part.subject,
                says=f"{part.ref} carries {amp(amperes)} with {volt(at.value)} across it, and bears"
                f" {amp(bears)} there",
                remedy=f"a transistor that bears {amp(amperes)} at {volt(at.value)}, or its voltage"
                " brought up slowly: a capacitor at its gate or base, 0.1 s with what feeds it",
                value=value,
                limit=bound,
                state=at.state,
                rests_on=at.rests_on,
            )


NOTHING, MOST = 1e-6, 1e6
"""Amperes that it bears beyond the last corner, where it only leaks; and, as volts, from where to
where a stated power stands for an area (our choice)."""


def _bears(area: Sequence[tuple[float, float]], volts: float) -> float:
    """Amperes at a voltage, by the straight line on log scales."""
    if volts <= area[0][0]:
        return area[0][1]
    for (v, i), (w, k) in itertools.pairwise(area):
        if volts <= w:
            return i * math.exp(math.log(k / i) * math.log(volts / v) / math.log(w / v))
    return NOTHING
