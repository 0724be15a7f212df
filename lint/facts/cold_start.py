"""Cold start: heaters cold, nothing draws HT current, rectifiers give their full peak.

A tube rectifier is taken as hot already: a filament conducts within seconds, indirectly heated
loads take ten or more.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping

import numpy as np

from coldcheck.lint.design import Design
from coldcheck.lint.facts.warm import ENOUGH, State
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Datum
from coldcheck.lint.netlist import Netlist, Setting, indicators, netlist
from coldcheck.lint.netlist.cores import remanent
from coldcheck.lint.physics.circuit import Circuit, Transformer
from coldcheck.lint.physics.start import Start, Transient
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.schemas.parts import Capacitor, Resistor

# IEC 62368-1 5.2.2.2 Table 4, ES1: 60 V dc (as restated by testers).
TOUCH_VOLTS = 60.0
# The first cycles decide inrush and a choke's overshoot: 16 of them hold the first swing of 10 H
# into 220 uF (half a period of 0.29 s at 50 Hz).  Where the supply ends up is the steady state's
# to say.  64 samples a cycle keep peaks within 0.1 % of 128.
CYCLES = 16
SAMPLES = 64


class ColdStart:
    """Voltages before any tube conducts, with the mains at its highest."""

    name = "cold start, mains high"

    def __init__(self, design: Design, schematic: Schematic) -> None:
        self._design = design
        self.ground = schematic.ground()
        high = design.document.site.mains.high
        self._netlist = netlist(design, Setting(high, tubes=False))
        self._left_out = indicators(design)

    @property
    def rests_on(self) -> tuple[Datum, ...]:
        return self._netlist.data

    @functools.cached_property
    def steady(self) -> State:
        """Where the supply settles with no load."""
        # unloaded, its pulses are narrow and next to nothing: it is asked for voltages
        solved = periodic_state(self._netlist.circuit, ENOUGH, finest=ENOUGH)
        return State(self.name, self._netlist, solved)

    @functools.cached_property
    def rush(self) -> Start:
        """The first cycles, from empty capacitors: chokes overshoot, transformers are pulled."""
        return self._switched_on(self._netlist.circuit).upto(CYCLES)

    def pull(self, seconds: float) -> Start:
        """What is drawn for at least so long: heaters cold, and every core left at its worst flux.

        Switched on as the mains passes zero, when the flux goes farthest.  The peaks of voltage
        are lower by it, and no part's worst.
        """
        return self._pull.upto(math.ceil(seconds * self.drawing.circuit.mains_hz - 1e-6))

    @functools.cached_property
    def _pull(self) -> Transient:
        return self._switched_on(self.drawing.circuit, self.remanent)

    @functools.cached_property
    def drawing(self) -> Netlist:
        """The circuit with heaters cold and iron that saturates."""
        high = self._design.document.site.mains.high
        return netlist(self._design, Setting(high, tubes=False, cold=True, core=True))

    @functools.cached_property
    def remanent(self) -> dict[str, float]:
        """Linear magnetising amperes of each core at switch-on, with the sign that is worst."""
        left = remanent(self._design, self.drawing.circuit)
        solved = self.steady.solved
        sine = np.sin(2.0 * np.pi * self.drawing.circuit.mains_hz * solved.time)
        return {
            element.name: float(
                np.copysign(left[element.name], solved.across(element.coils[0].name) @ sine)
            )
            for element in self.drawing.circuit.elements
            if isinstance(element, Transformer) and element.name in left
        }

    def _switched_on(self, circuit: Circuit, left: Mapping[str, float] | None = None) -> Transient:
        kept = tuple(e for e in circuit.elements if e.name not in self._left_out)
        return Transient(circuit._replace(elements=kept), SAMPLES, left)

    def capacitor_volts(self, ref: str, net: str, other: str) -> float:
        """Largest voltage of a capacitor from one net to the other, with its sign, in volts."""
        settled = self.steady.peak(net, other)
        rising = self.rush.peak_volts(ref)
        return max(settled, rising, key=abs)

    def inverse_volts(self, rectifier: str) -> float:
        """Largest reverse voltage of a diode, in volts, from switch-on and settled."""
        settled = self.steady.solved.across(rectifier)
        known = rectifier not in self._left_out
        rising = self.rush.across(rectifier) if known else settled
        return float(max(-settled.min(), -rising.min(), 0.0))

    def surge_amperes(self, element: str) -> float:
        """Largest current of a diode or coil from switch-on, in amperes."""
        if element in self._left_out:
            return self.steady.peak_amperes(element)
        return abs(self.rush.peak_amperes(element))

    def net_volts(self, net: str, other: str) -> float:
        """Largest voltage between two nets from switch-on, with its sign, in volts."""
        settled = self.steady.peak(net, other)
        rising = self.rush.volts(net) - self.rush.volts(other)
        return max(settled, float(rising[np.argmax(np.abs(rising))]), key=abs)

    @functools.cached_property
    def bleeders(self) -> frozenset[str]:
        """Resistors that serve to discharge: from a net charged past touch straight to ground,
        or straight across a capacitor so charged."""
        design, ground = self._design, self.ground
        stores = {frozenset(part.ends.values()) for part in design.of(Capacitor)}
        found = set()
        for part in design.of(Resistor):
            nets = frozenset(part.ends.values())
            if len(nets) == 2 and (nets & ground or nets in stores):
                a, b = nets
                wave = self.steady.between(a, b)
                if abs(float(np.mean(wave))) > TOUCH_VOLTS:
                    found.add(part.ref)
        return frozenset(found)


def make(design: Design, schematic: Schematic) -> ColdStart:
    """Needs no tube data: only supply parts and windings."""
    return ColdStart(design, schematic)
