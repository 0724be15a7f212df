"""Capacitors across the mains: what is left on the pins of the plug once it is pulled."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.mains_side import MainsSide
from coldcheck.lint.facts.off_states import standings
from coldcheck.lint.netlist import Setting, netlist
from coldcheck.lint.netlist.windings import at_rest
from coldcheck.lint.physics.discharge import Decay, decay
from coldcheck.schemas.parts import Capacitor, MainsTransformer, Switch


class MainsCapacitors(NamedTuple):
    """Capacitors with both ends on the mains side, and how they discharge with the plug out."""

    all: tuple[Use[Capacitor], ...]
    start: float
    """Volts they may hold: the peak of the highest mains."""
    states: Mapping[str, Decay]
    """By how the mains switches stand: "plug pulled, S1 off"."""

    def slowest(self, ref: str, volts: float) -> tuple[float, str]:
        """The longest time down to ``volts``, in seconds, and how the switches stand."""
        return max(
            ((solved.seconds_to(ref, volts), name) for name, solved in self.states.items()),
            key=lambda pair: pair[0],
        )


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
    states: dict[str, Decay] = {}
    switches = [s for s in design.of(Switch) if found and mains.nets & set(s.ends.values())]
    for stand in standings([list(switch.spec.positions) for switch in switches]):
        positions = {switch.ref: at for switch, at in zip(switches, stand, strict=True)}
        circuit = netlist(design, Setting(None, positions, tubes=False)).circuit
        primaries = tuple(
            coil
            for part in design.of(MainsTransformer)
            for coil in at_rest(part, part.spec, "primary", part.spec.primary.resistance, 100.0)
        )
        name = ", ".join(["plug pulled", *(f"{ref} {at}" for ref, at in positions.items())])
        states[name] = decay(
            circuit._replace(elements=circuit.elements + primaries),
            {part.ref: start for part in found},
        )
    return MainsCapacitors(found, start, states)
