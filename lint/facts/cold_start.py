"""Cold start: heaters cold, nothing draws HT current, rectifiers give their full peak.

A tube rectifier is taken as hot already: a filament conducts within seconds, indirectly heated
loads take ten or more.
"""

from __future__ import annotations

import functools

from coldcheck.lint.design import Design
from coldcheck.lint.facts.warm import State
from coldcheck.lint.model import Datum
from coldcheck.lint.netlist import Setting, netlist
from coldcheck.lint.physics.start import Start, cold_start
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.schemas.parts import Capacitor


class ColdStart:
    """Voltages before any tube conducts, with the mains at its highest."""

    name = "cold start, mains high"

    def __init__(self, design: Design) -> None:
        high = design.document.site.mains.high
        self._netlist = netlist(design, Setting(high, tubes=False))

    @property
    def rests_on(self) -> tuple[Datum, ...]:
        return self._netlist.data

    @functools.cached_property
    def steady(self) -> State:
        """Where the supply settles with no load."""
        solved = periodic_state(self._netlist.circuit)
        return State(self.name, self._netlist, solved)

    @functools.cached_property
    def rush(self) -> Start:
        """The first cycles, from empty capacitors: chokes overshoot, transformers are pulled."""
        return cold_start(self._netlist.circuit)

    def capacitor_volts(self, ref: str, net: str, other: str) -> float:
        """Largest voltage of a capacitor from one net to the other, with its sign, in volts."""
        settled = self.steady.peak(net, other)
        rising = self.rush.peak_volts(ref)
        return max(settled, rising, key=abs)


def make(design: Design) -> ColdStart:
    """Needs no tube data: only supply parts and windings."""
    return ColdStart(design)


def charged(design: Design) -> list[str]:
    """Capacitors with both ends connected, in order of reference."""
    return [part.ref for part in design.of(Capacitor) if len(part.ends) == 2]
