"""One cycle of the steady state of a supply and its load, and what can be read from it."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Coil,
    Inductor,
    Mosfet,
    Pentode,
    Regulator,
    Triode,
)
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.floating import terminals
from coldcheck.lint.physics.junctions import Mask
from coldcheck.lint.physics.ports import Feedback
from coldcheck.lint.physics.waves import Waves, largest

BENDING = 0.02
"""Error of a linearised device's current, relative to the largest, above which it is not right
enough; our choice."""
UNHEARD = 1e-6
"""Error in amperes of a tube's current that is none, whatever it is relative to; our choice."""
LEAKING = 1e-8
"""The same of a diode's: about what silicon leaks.  A diode that sees but millivolts may be all that
a shorted winding feeds; our choice."""


class Averaged(NamedTuple):
    """The rectifiers as their load sees them in the mean, to first order about a steady state.

    They give ``amperes`` - ``siemens`` @ v, v (p,) the mean voltages of their junctions; with the
    mains at m times its voltage, m times ``amperes``.
    """

    rows: Array
    """(p, n) the ports of those junctions: v = rows @ x, and rows.T injects their currents."""
    siemens: Array
    """(p, p)"""
    amperes: Array
    """(p,)"""

    @classmethod
    def about(cls, rows: Array, siemens: Array, volts: Array, amperes: Array) -> Averaged:
        """About junction voltages and currents over a cycle, (p, samples) each."""
        return cls(rows, siemens, siemens @ volts.mean(axis=1) - amperes.mean(axis=1))

    def into(self, matrix: Array) -> Array:
        """A matrix for steady currents, (n, n), with them in it."""
        return np.asarray(matrix + self.rows.T @ self.siemens @ self.rows)


@dataclass(frozen=True, eq=False)
class PeriodicState(Waves):
    """One mains cycle of every voltage and current in the steady state.

    Read it as :class:`~coldcheck.lint.physics.waves.Waves`; of a tube ``amperes`` is the plate
    current.  Glow tubes that do not strike are dark in ``network.diodes``.
    """

    swinging: Mask
    """(p,) which ports of ``network.diodes`` were solved over the cycle, as rectifiers."""
    junction_volts: Array
    """(swinging, samples) of those diodes."""
    still_volts: Array
    """(m,) mean port voltages of tubes and of the other diodes."""
    tube_amperes: Array
    """(m, samples) port currents of the tubes."""
    feedback: Feedback
    """What the network answers to the currents of the rectifiers."""
    rough: Array | None
    """(swinging, swinging) siemens of :meth:`averaged`, about, where they are known."""

    def bent(self) -> tuple[str, ...]:
        """Names of the devices that were linearised and swing too far for it.

        Their current over the cycle misses that of their law by more than :data:`BENDING` of its
        largest value: tubes, and a transistor or regulator that did not settle as a rectifier.
        """
        tubes = self.network.tubes
        law = tubes.law(self.network.tube_ports @ self.solution)[0]
        far = _missed(law, self.tube_amperes, 0.0, UNHEARD)
        ports = (tubes.plate_port, tubes.screen_port, tubes.grid_port)
        names = [name for port in ports for name, k in port.items() if far[k]]
        names += [
            n for n, here in zip(self.network.diodes.names, bent_diodes(self), strict=True) if here
        ]
        return tuple(dict.fromkeys(names))

    def averaged(self) -> Averaged:
        """The rectifiers as a dc source, for loads that differ a little from this one.

        Everything but the mean follows the circuit (:meth:`Feedback.following`).  ``amperes``
        counts as the sources of a dc network do: positive into the anode's node.
        """
        return self._averaged

    @functools.cached_property
    def _averaged(self) -> Averaged:
        diodes = self.network.diodes.subset(self.swinging)
        follows = self.feedback.following(diodes.law(self.junction_volts)[1])
        return self._about(follows.mean(axis=1))

    def roughly_averaged(self) -> Averaged:
        """The same at less expense, for a guess."""
        return self._averaged if self.rough is None else self._about(self.rough)

    def _about(self, siemens: Array) -> Averaged:
        rows, amperes = self.network.diode_ports[self.swinging], self.junction_amperes
        return Averaged.about(rows, siemens, self.junction_volts, amperes[self.swinging])

    @functools.cached_property
    def _means(self) -> Array:
        return np.asarray(self.solution.mean(axis=1))

    def mean(self, node: str) -> float:
        """Mean voltage of ``node``."""
        return float(self.network.volts(self._means, node))

    def ripple(self, node: str) -> float:
        """Peak-to-peak voltage of ``node`` over the cycle."""
        volts = self.network.volts(self.solution, node)
        high, low = float(volts.max()), float(volts.min())
        return largest(volts - low, closed=True) + largest(high - volts, closed=True) - (high - low)

    def peak_amperes(self, name: str) -> float:
        """Current of the largest size in the cycle, with its sign, in amperes."""
        return largest(self.amperes(name), closed=True)

    def amperes(self, name: str) -> Array:
        """Current of an element or coil, of a tube its plate's, in amperes, (samples,)."""
        port = self.network.tubes.plate_port.get(name)
        return Waves.amperes(self, name) if port is None else np.array(self.tube_amperes[port])

    def screen_amperes(self, name: str) -> Array:
        """Screen current of a pentode, (samples,)."""
        return np.array(self.tube_amperes[self.network.tubes.screen_port[name]])

    def grid_amperes(self, name: str) -> Array:
        """Grid current of a tube, (samples,)."""
        return np.array(self.tube_amperes[self.network.tubes.grid_port[name]])

    def watts(self, name: str) -> float:
        """Mean heat of a resistor, diode, inductor or coil (its wire), of a tube's plate, of a
        transistor or regulator.

        Of a source or current load: the mean power it takes, so negative when it supplies.
        """
        element, current = self.network.elements[name], self.amperes(name)
        match element:
            case Bipolar() | Mosfet() | Regulator():
                into = self.terminal_amperes(name)
                volts = [self.network.volts(self.solution, node) for node in terminals(element)]
                return float(np.mean(sum(v * i for v, i in zip(volts, into, strict=True))))
            case Inductor() | Coil():
                return float(np.mean(current**2) * element.ohms)
            case Triode() | Pentode():
                plate = self.network.volts(self.solution, element.plate)
                cathode = self.network.volts(self.solution, element.cathode)
                return float(np.mean((plate - cathode) * current))
            case _:
                return float(np.mean(self.across(name) * current))

    def screen_watts(self, name: str) -> float:
        """Mean heat of a pentode's screen."""
        element = self.network.elements[name]
        if not isinstance(element, Pentode):
            raise KeyError(name)
        screen = self.network.volts(self.solution, element.screen)
        cathode = self.network.volts(self.solution, element.cathode)
        return float(np.mean((screen - cathode) * self.screen_amperes(name)))


def bent_diodes(state: PeriodicState) -> Mask:
    """Which linearised diodes swing too far for it."""
    diodes = state.network.diodes
    law = diodes.currents(state.network.diode_ports @ state.solution)[0]
    return ~state.swinging & _missed(law, state.junction_amperes, diodes.knees()[1], LEAKING)


def _missed(law: Array, linear: Array, least: Array | float, floor: float) -> Mask:
    """Where linearised currents, (p, samples), are too far from those of the law."""
    miss = np.abs(law - linear).max(axis=1)
    most = np.maximum(np.abs(linear).max(axis=1), least)
    return np.asarray(miss > floor + BENDING * most)
