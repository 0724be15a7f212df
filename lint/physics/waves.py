"""Voltages and currents over time, by the names of nodes and elements."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Capacitor,
    CurrentLoad,
    GlowTube,
    Mosfet,
    Regulator,
    Resistor,
    SiliconDiode,
    Transformer,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network


@dataclass(frozen=True, slots=True, eq=False)
class Waves:
    """Sampled solution of a circuit.

    Voltages are to ground; currents from a to b, or anode to cathode.  ``time`` (samples,) is in
    seconds from a zero crossing of a source with phase 0.
    """

    time: Array
    network: Network
    solution: Array
    """(n, samples) unknowns of :class:`~coldcheck.lint.physics.matrices.Network`."""
    charging: Array
    """(r, samples) rate of change of each reactive element's voltage or current, per second."""
    junction_amperes: Array
    """(p, samples) of the diodes and their like."""

    def volts(self, node: str) -> Array:
        """Voltage of ``node`` in volts, (samples,); KeyError when there is no such node."""
        return np.array(self.network.volts(self.solution, node))

    def across(self, name: str) -> Array:
        """Voltage from a to b, or anode to cathode, of an element or coil, (samples,)."""
        return self.network.across(self.solution, name)

    def amperes(self, name: str) -> Array:
        """Current of an element or coil in amperes, (samples,); KeyError when there is none.

        Of a transformer the magnetising current, seen at its first coil; of a transistor that into
        its collector or drain, of a regulator that out of its output.
        """
        network = self.network
        element = network.elements[name]
        match element:
            case Transformer():
                return np.array(self.solution[network.branch[name]])
            case _ if name in network.branch:
                return np.array(self.solution[network.branch[name] - 1])
            case Resistor():
                return self.across(name) / element.ohms
            case Capacitor():
                if element.farads == 0.0:
                    return np.zeros_like(self.time)
                column = network.column[name]
                return np.array(network.storage[column] * self.charging[column])
            case CurrentLoad():
                return np.full_like(self.time, element.amperes)
            case SiliconDiode() | TubeDiode() | ZenerDiode() | GlowTube():
                return np.array(self.junction_amperes[network.port(name)])
            case Bipolar() | Mosfet():
                return np.array(self.terminal_amperes(name)[0])
            case Regulator():
                return np.array(-self.terminal_amperes(name)[1])
            case _:
                raise KeyError(name)

    def terminal_amperes(self, name: str) -> Array:
        """Currents into the terminals of a transistor or regulator, (3, samples).

        In the order of :func:`coldcheck.lint.physics.floating.terminals`; KeyError for any other.
        """
        element = self.network.elements[name]
        if not isinstance(element, Bipolar | Mosfet | Regulator):
            raise KeyError(name)
        return self.network.diodes.into(element, self.junction_amperes)


def largest(values: Array, *, closed: bool) -> float:
    """The value of largest size, with its sign, read between samples.

    By the parabola through the two samples that it lies between, as bent as the wave is at the
    straighter of them: so a corner is not rounded outward.  ``closed``: the last sample is followed
    by the first.  If not, nothing is read from the first sample, where the beginning is sudden.
    """
    size, k = values.size, int(np.argmax(np.abs(values)))
    peak = float(values[k])
    sign = -1.0 if peak < 0.0 else 1.0
    side = 1 if sign * values[(k + 1) % size] >= sign * values[k - 1] else -1
    around = (k - side, k, k + side, k + 2 * side)
    if not closed and (min(around) < 1 or max(around) >= size):
        return peak
    before, top, after, beyond = (sign * float(values[i % size]) for i in around)
    bend = 0.5 * min(2.0 * top - before - after, 2.0 * after - top - beyond)
    fall = top - after
    return peak if bend <= fall else peak + sign * (bend - fall) ** 2 / (4.0 * bend)
