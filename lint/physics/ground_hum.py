"""Hum of conductors that are not without resistance: a known steady state on a circuit with them.

A few milliohms change no rectifier's current by what could be heard, so the currents that pulse are
those of the state without them, and everything else is its slope there, as in that state.  What is
left is linear: the circuit with the conductors is solved once at each harmonic of the mains, and
what each conductor's volts do at an output is read from the transposed circuit, driven there (J. L.
Bordewijk, "Inter-reciprocity applied to electrical networks", Appl. Sci. Res. B 6, 1, 1956).
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.physics.circuit import Circuit, Resistor
from coldcheck.lint.physics.dc import Devices
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.harmonics import sampled, tune, waveforms
from coldcheck.lint.physics.matrices import SMALLEST_OHMS, Network
from coldcheck.lint.physics.periodic import PeriodicState

Complex = NDArray[np.complex128]
Port = tuple[str, str]
"""Two nodes: a voltage is that of the first over the second."""

HARMONICS = 16
"""Harmonics of the mains that are counted, at most; our choice: those above add less than 0.1 % to
what the ground wires of two demos bring."""


class WiredHum(NamedTuple):
    """A circuit with its conductors, at harmonics 1 to k of the mains, as rms phasors."""

    network: Network
    solution: Complex
    """(k, n) unknowns."""
    matrix: Array
    """(n, n) what stands for tubes and steady diodes, in siemens."""

    def volts(self, a: str, b: str) -> Complex:
        """Voltage of node a over node b, (k,)."""
        return np.asarray(self.solution @ self.network.rows([(a, b)])[0])

    def amperes(self, conductor: str) -> Complex:
        """Current of a resistor from its first node to its second, (k,)."""
        network = self.network
        if conductor in network.branch:
            return np.asarray(self.solution[:, network.branch[conductor] - 1])
        return self.volts(*network.ends[conductor]) / _ohms(network, conductor)

    def along(self, conductor: str) -> Complex:
        """Volts along a resistor, those of its first node over its second, (k,)."""
        return self.amperes(conductor) * _ohms(self.network, conductor)

    def heard(self, conductors: Sequence[str], output: Port) -> dict[str, Complex]:
        """Volts at an output for each volt along a conductor, (k,) by name.

        With :meth:`along` they are what the output has of each; all of them together are, to first
        order, what it has more than without conductors.
        """
        network = copy.copy(self.network)
        network.dc, network.ac = network.dc.T, network.ac.T
        samples, still = 2 * (len(self.solution) + 1), np.zeros(network.size)
        tuned = tune(network, self.matrix.T, still, samples, network.rows([output]))
        ohms = tuned.seen(network.rows([network.ends[name] for name in conductors]))[1:-1, :, 0]
        return {name: ohms[:, k] / _ohms(network, name) for k, name in enumerate(conductors)}


def wired_hum(state: PeriodicState, circuit: Circuit) -> WiredHum:
    """The hum of ``circuit``: that of ``state`` with conductors between what were single nodes.

    It has the devices of that circuit, in their order; ValueError where it has not.
    """
    network = Network(circuit, state.network.bridges)  # whatever wires are now between their arms
    if network.diodes.names != state.network.diodes.names:
        raise ValueError("the circuit has other rectifiers than its state")
    if network.tube_ports.shape[0] != state.network.tube_ports.shape[0]:
        raise ValueError("the circuit has other tubes than its state")
    network.diodes, swinging = state.network.diodes, state.swinging  # as it left them: lit or dark
    still = Devices.steady(network, swinging)
    matrix = still.ports.T @ still.law(state.still_volts)[1] @ still.ports
    rows, given = network.diode_ports[swinging], spectrum(state.junction_amperes[swinging])
    harmonics = len(given)
    samples = 2 * (harmonics + 1)
    scale = np.sqrt(2.0) / samples
    pulses = sampled(np.pad(given, ((1, 1), (0, 0))) / scale, samples)
    tuned = tune(network, matrix, np.zeros(network.size), samples, rows)
    return WiredHum(network, waveforms(tuned, pulses)[1:-1] * scale, matrix)


def spectrum(waves: Array) -> Complex:
    """Harmonics 1 to :data:`HARMONICS` of cycles (p, samples), as rms phasors (k, p)."""
    samples = waves.shape[-1]
    last = min(HARMONICS, samples // 2 - 1)
    found = np.fft.rfft(waves, axis=-1)[..., 1 : last + 1] * (np.sqrt(2.0) / samples)
    return np.asarray(found.T)


def rms(phasors: Complex) -> float:
    """Root of the sum of squares of rms phasors."""
    return float(np.sqrt(np.sum(np.abs(phasors) ** 2)))


def _ohms(network: Network, name: str) -> float:
    element = network.elements[name]
    if not isinstance(element, Resistor):
        raise KeyError(name)
    return max(element.ohms, SMALLEST_OHMS)
