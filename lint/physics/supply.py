"""Mains-driven periodic steady state by partial harmonic balance.

Diodes are solved in the time domain over one cycle, behind a linear network known by its response
at each harmonic; tubes are solved at their mean voltages and linearised there for ripple.  The
two solutions feed each other: the rectifiers act on the tubes as a current with a conductance,
exact to first order, and the tubes on the rectifiers by their linearisation.
K. S. Kundert, J. K. White, A. Sangiovanni-Vincentelli, "Steady-State Methods for Simulating Analog
and Microwave Circuits", Kluwer 1990.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.physics.circuit import (
    Circuit,
    Coil,
    Inductor,
    NotSolved,
    Pentode,
    Triode,
)
from coldcheck.lint.physics.dc import Equations, solve
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.ports import Feedback
from coldcheck.lint.physics.waves import Waves

Complex = NDArray[np.complex128]

PASSES = 25
CLOSED = 1e-5
"""Relative change of the tubes' mean voltages at which the passes end; the linearised tube
current is then right to the square of it; our choice."""


class Tuned(NamedTuple):
    """A linear network at each harmonic: x_k = source_k - transfer_k @ (diode currents)_k."""

    source: Complex
    """(samples / 2 + 1, n), scaled as numpy's rfft of the samples."""
    transfer: Complex
    """(samples / 2 + 1, n, p), in ohms where the unknown is a voltage."""


@dataclass(frozen=True, slots=True, eq=False)
class PeriodicState(Waves):
    """One mains cycle of every voltage and current in the steady state.

    Read it as :class:`~coldcheck.lint.physics.waves.Waves`; of a tube ``amperes`` is the plate
    current.
    """

    junction_volts: Array
    """(p, samples) of the diodes."""
    tube_volts: Array
    """(m,) mean port voltages of the tubes."""
    tube_amperes: Array
    """(m, samples) port currents of the tubes."""

    def mean(self, node: str) -> float:
        """Mean voltage of ``node``."""
        return float(np.mean(self.network.volts(self.solution, node)))

    def ripple(self, node: str) -> float:
        """Peak-to-peak voltage of ``node`` over the cycle."""
        return float(np.ptp(self.network.volts(self.solution, node)))

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
        """Mean heat of a resistor, diode, inductor or coil (its wire), or a tube's plate.

        Of a source or current load: the mean power it takes, so negative when it supplies.
        """
        element, current = self.network.elements[name], self.amperes(name)
        match element:
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


def periodic_state(
    circuit: Circuit, samples: int = 128, start: PeriodicState | None = None
) -> PeriodicState:
    """The periodic steady state of a circuit driven at ``circuit.mains_hz``.

    ``samples`` per cycle, even.  ``start``: the state of the same circuit at another mains
    voltage, to start from.  Raises NotSolved, naming a node or element, when it does not settle.
    """
    network = Network(circuit)
    tubes, diodes = network.tubes, network.diodes
    volts, junction = _opening(network, samples, start)
    ports = network.tube_ports
    blind = start is None and tubes.count > 0
    for _ in range(PASSES):
        current, jacobian = tubes.resting(volts) if blind else tubes.currents(volts)
        matrix = ports.T @ jacobian @ ports
        source = ports.T @ (jacobian @ volts - current)
        tuned = _tune(network, matrix, source, samples)
        feedback, opened = _feedback(network, tuned, samples)
        warm = junction is not None
        if junction is None:
            junction = _guess(opened)
        junction, settled = feedback.solve(diodes, opened, junction, warm)
        amperes, slope = diodes.currents(junction)
        if not settled:
            miss = np.abs(junction - opened + feedback.drop(amperes)).max(axis=1)
            name = diodes.names[int(np.argmax(miss))]
            raise NotSolved(f"the current of rectifier {name} does not settle", elements=(name,))
        solution = _waveforms(tuned, amperes)
        moved = ports @ solution[0].real / samples - volts
        if not tubes.count or (
            not blind and np.all(np.abs(moved) <= CLOSED * (1.0 + np.abs(volts)))
        ):
            volts = volts + moved
            return _state(network, solution, samples, junction, amperes, volts)
        admittance = feedback.admittance(slope)
        rows = network.diode_ports
        given = admittance @ junction.mean(axis=1) - amperes.mean(axis=1)
        x = solve(
            network,
            Equations(
                network.dc + rows.T @ admittance @ rows,
                network.steady + rows.T @ given,
                *(ports, tubes.currents, tubes.reach, network.nodes),
            ),
            tubes.start if blind else volts + moved,
        )
        volts, blind = ports @ x, False
    worst = int(np.argmax(np.abs(moved)))
    node = tubes.terminals[worst][0]
    raise NotSolved(
        f"the supply and the tubes find no common state; node {node} keeps moving", (node,)
    )


def _opening(
    network: Network, samples: int, start: PeriodicState | None
) -> tuple[Array, Array | None]:
    """Tube and junction voltages to begin with, from ``start`` when it fits."""
    if start is not None:
        shape = (network.diodes.count, samples)
        if start.junction_volts.shape == shape and start.tube_volts.size == network.tubes.count:
            return start.tube_volts, start.junction_volts
    return network.tubes.start, None


def _tune(network: Network, matrix: Array, source: Array, samples: int) -> Tuned:
    """Response at dc and at each harmonic, ``matrix`` and ``source`` standing for the tubes.

    With M = G + sigma C solved once, each harmonic needs only a system of the size of the
    reactive elements (Sherman-Morrison-Woodbury); sigma, real, keeps M well conditioned.
    """
    entry, storage, incidence = network.diode_ports.T, network.storage, network.incidence
    ports = entry.shape[1]
    harmonics = np.arange(1, samples // 2 + 1)
    shift = 4.0 * network.omega
    columns = np.column_stack([entry, network.sine, network.cosine, incidence])
    whole = network.ac + matrix + (incidence * (shift * storage)) @ incidence.T
    still = _solved(network, network.dc + matrix, np.column_stack([entry, network.steady + source]))
    moving = _solved(network, whole, columns)
    given, stored = moving[:, : ports + 2], moving[:, ports + 2 :]
    inner = storage[:, None] * (incidence.T @ stored)
    outer = storage[:, None] * (incidence.T @ given)
    rates = (1j * network.omega * harmonics - shift)[:, None, None]
    eye = np.eye(storage.size)
    response = given - stored @ np.linalg.solve(eye + rates * inner, rates * outer)
    transfer = np.concatenate([still[None, :, :ports], response[:, :, :ports]])
    free = np.zeros((harmonics.size + 1, network.size), dtype=complex)
    free[0] = samples * still[:, ports]
    free[1] = 0.5 * samples * (response[0, :, ports + 1] - 1j * response[0, :, ports])
    return Tuned(free, transfer)


def _solved(network: Network, matrix: Array, columns: Array) -> Array:
    try:
        return np.asarray(np.linalg.solve(matrix, columns))
    except np.linalg.LinAlgError:
        lost = np.abs(np.linalg.svd(matrix)[2][-1])
        name = network.node_of(int(np.argmax(lost)))
        raise NotSolved(f"the circuit around {name} has no single solution", (name,)) from None


def _feedback(network: Network, tuned: Tuned, samples: int) -> tuple[Feedback, Array]:
    """The response seen by the diodes, and their voltages without their currents."""
    rows = network.diode_ports
    kernel = np.fft.irfft(rows @ tuned.transfer, samples, axis=0)
    opened = np.fft.irfft(tuned.source @ rows.T, samples, axis=0)
    return Feedback(kernel, circular=True), opened.T


def _guess(opened: Array) -> Array:
    """Junction voltages as if the capacitors behind were charged to nine tenths of the peak."""
    return np.asarray(opened - 0.9 * np.maximum(opened.max(axis=1, keepdims=True), 0.0))


def _waveforms(tuned: Tuned, amperes: Array) -> Complex:
    spectrum = np.fft.rfft(amperes, axis=1).T
    return np.asarray(tuned.source - (tuned.transfer @ spectrum[:, :, None])[:, :, 0])


def _state(
    network: Network,
    solution: Complex,
    samples: int,
    junction: Array,
    amperes: Array,
    volts: Array,
) -> PeriodicState:
    """Turn harmonics into waveforms and collect them."""
    rates = 1j * network.omega * np.arange(solution.shape[0])
    waves = np.fft.irfft(solution, samples, axis=0).T
    charging = np.fft.irfft(rates[:, None] * (solution @ network.incidence), samples, axis=0).T
    current, jacobian = network.tubes.currents(volts)
    ripple = network.tube_ports @ waves - volts[:, None]
    cycle = 2.0 * np.pi / network.omega
    return PeriodicState(
        time=(cycle / samples) * np.arange(samples, dtype=float),
        network=network,
        solution=waves,
        charging=charging,
        junction_volts=junction,
        junction_amperes=amperes,
        tube_volts=volts,
        tube_amperes=current[:, None] + jacobian @ ripple,
    )
