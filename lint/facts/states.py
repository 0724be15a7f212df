"""The worst of all states: one door for rules that hold a part to its rating.

Held against each other are the warm state, every other standing of the switches and, of an
amplifier, full drive, with the mains at its highest; and, for voltages, cold start.  Each answer
says in which state it was found and what that state rests on.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.full_drive import FullDrive
from coldcheck.lint.facts.standings import Standings
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.model import Datum
from coldcheck.lint.physics.circuit import Bipolar, Mosfet, NotSolved


class Worst(NamedTuple):
    """A figure in the state where it is largest, by its magnitude."""

    value: float
    """Volts, amperes or watts; never below 0."""
    state: str
    rests_on: tuple[Datum, ...]


class States:
    """Every solved state a part is stressed in for long, or at switch-on.

    Of figures alike but for rounding the one that is asked first counts: warm before any other
    standing, those before full drive, and cold start before warm.
    """

    def __init__(
        self, warm: Warm, standings: Standings, cold: ColdStart, drive: FullDrive | None
    ) -> None:
        self._warm = warm
        self._standings = standings
        self._cold = cold
        self._drive = drive

    @functools.cached_property
    def lasting(self) -> tuple[State, ...]:
        """Those that last: the warm state, the standings, and full drive."""
        return (self._warm.high, *self._standings.states, *self.driven)

    @functools.cached_property
    def driven(self) -> tuple[State, ...]:
        """Full drive for as long as one likes, one cycle of the signal each; last the mains cycle
        under the heaviest of them, in which tubes are mean currents.

        Empty for what does not amplify, and where full drive is not known or not solved: the rules
        that judge it then say so.
        """
        if self._drive is None:
            return ()
        try:
            return (*self._drive.high.sustained, self._drive.high.supply)
        except NotSolved:
            return ()

    @functools.cached_property
    def played(self) -> tuple[State, ...]:
        """The mains cycle at full drive with the mains nominal; empty as :attr:`driven` is."""
        return (self._drive.nominal.supply,) if self._drive is not None and self.driven else ()

    def volts(self, a: str, b: str) -> Worst:
        """Largest voltage between two nets, at switch-on or after, in volts."""
        return _worst([self._switched_on(a, b), *self._between(a, b)])

    def charge(self, ref: str, a: str, b: str) -> tuple[Worst, Worst]:
        """Volts of a capacitor between two nets: at switch-on, and what it then has for good."""
        cold = self._cold
        start = Worst(abs(cold.capacitor_volts(ref, a, b)), cold.name, cold.rests_on)
        return start, _worst(self._between(a, b))

    def amperes(self, element: str) -> Worst:
        """Largest rms current of an element or coil, in amperes."""
        return self._of(element, lambda state: state.rms_amperes(element))

    def dc_amperes(self, element: str) -> Worst:
        """Largest mean current of an element or coil, in amperes."""
        return self._of(element, lambda state: abs(state.mean_amperes(element)))

    def watts(self, element: str) -> Worst:
        """Largest mean dissipation of an element, coil or plate, in watts."""
        return self._of(element, lambda state: state.watts(element))

    def moments(self, transistor: str) -> Iterator[tuple[Worst, float]]:
        """Volts from collector to emitter, or drain to source, and the amperes that flow with them.

        Through a cycle of each lasting state, and from switch-on, capacitors empty.  Nothing for
        one that is in no state.
        """
        lasting = [(state.solved, state.name, state.rests_on) for state in self.lasting]
        rush = (self._cold.rush, self._cold.name, self._cold.rests_on)
        for waves, name, rests_on in (*lasting, rush):
            match waves.network.elements.get(transistor):
                case Bipolar(collector=a, emitter=b) | Mosfet(drain=a, source=b):
                    volts = np.abs(waves.volts(a) - waves.volts(b)).tolist()
                    amperes = np.abs(waves.amperes(transistor)).tolist()
                    for v, i in zip(volts, amperes, strict=True):
                        yield Worst(v, name, rests_on), i

    def knows(self, element: str) -> bool:
        """Whether an element or coil of that name is in any of the lasting states."""
        return any(state.knows(element) for state in self.lasting)

    def _of(self, element: str, figure: Callable[[State], float]) -> Worst:
        known = [state for state in self.lasting if state.knows(element)]
        return _worst([Worst(figure(state), state.name, state.rests_on) for state in known])

    def _between(self, a: str, b: str) -> list[Worst]:
        known = [state for state in self.lasting if state.has(a) and state.has(b)]
        return [Worst(abs(state.peak(a, b)), state.name, state.rests_on) for state in known]

    def _switched_on(self, a: str, b: str) -> Worst:
        cold = self._cold
        return Worst(abs(cold.net_volts(a, b)), cold.name, cold.rests_on)


def _worst(cases: list[Worst]) -> Worst:
    most = cases[0]
    for case in cases[1:]:
        if case.value > most.value * (1.0 + 1e-6) + 1e-9:
            most = case
    return most


def make(warm: Warm, standings: Standings, cold: ColdStart, drive: FullDrive | None) -> States:
    """Lazy: no state is solved until a figure is asked for."""
    return States(warm, standings, cold, drive)
