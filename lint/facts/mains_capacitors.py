"""Capacitors across the mains: what is left on the pins of the plug once it is pulled."""

from __future__ import annotations

import math
from typing import NamedTuple

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.discharging import ALIKE, Bench, OffState, opening, written
from coldcheck.lint.facts.mains_side import MainsSide
from coldcheck.lint.netlist.windings import at_rest
from coldcheck.schemas.parts import Capacitor, MainsTransformer, Switch

PINS_VOLTS = 60.0
"""Where designs with too many standings for all of them are tried are slowest: IEC 62368-1 ES1."""


class MainsCapacitors(NamedTuple):
    """Capacitors with both ends on the mains side, and how they discharge with the plug out."""

    all: tuple[Use[Capacitor], ...]
    start: float
    """Volts they may hold: the peak of the highest mains."""
    states: tuple[OffState, ...]
    """By how the mains switches stand: "plug pulled, S1 off"."""

    def slowest(self, ref: str, volts: float) -> tuple[float, str]:
        """The longest time down to ``volts``, in seconds, and how the switches stand."""
        longest, slowest = -1.0, ""
        for state in self.states:
            wait = state.seconds_to(ref, volts)
            if wait > longest * (1.0 + ALIKE):
                longest, slowest = wait, state.name
        return longest, slowest


def make(design: Design, mains: MainsSide) -> MainsCapacitors:
    """Every position of the mains switches; fuses whole, the primary a path like any other.

    A primary whose resistance is not known is taken as 100 ohm: whatever it is, no capacitor that
    belongs across the mains outlasts it by a second.
    """
    start = design.document.site.mains.high * math.sqrt(2.0)
    found = tuple(
        part
        for part in design.of(Capacitor)
        if len(nets := set(part.ends.values())) == 2 and nets <= mains.nets
    )
    if not found:
        return MainsCapacitors((), start, ())
    circuit = written(design, frozenset())
    primaries = tuple(
        coil
        for part in design.of(MainsTransformer)
        for coil in at_rest(part, part.spec, "primary", part.spec.primary.resistance, 100.0)
    )
    switches = [opening(s) for s in design.of(Switch) if mains.nets & set(s.ends.values())]
    bench = Bench(
        circuit._replace(elements=circuit.elements + primaries),
        switches,
        {part.ref: start for part in found},
    )
    return MainsCapacitors(found, start, bench.states("plug pulled", PINS_VOLTS, PINS_VOLTS))
