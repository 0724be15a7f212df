"""Mains-driven periodic steady state by partial harmonic balance.

Rectifiers are solved in the time domain over one cycle, behind a linear network known by its
response at each harmonic; tubes, and diodes that see steady voltage, are solved at their mean
voltages and linearised there for ripple.  The two solutions feed each other: the rectifiers act
on the tubes as a current with a conductance, exact to first order, and the tubes on the
rectifiers by their linearisation.
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
from coldcheck.lint.physics.dc import Devices, checked, solve
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.ports import Feedback
from coldcheck.lint.physics.waves import Waves

Complex = NDArray[np.complex128]

SEEN_THROUGH = 1e-6
"""Conductance in siemens put across every diode to see which of them the mains reaches."""
RECTIFIER_VOLTS = 1.0
"""Amplitude above which such a diode is solved over the cycle instead of linearised; our choice."""
BENDING = 0.02
"""Error of a linearised diode's current, relative to the largest, above which it is not; ours."""

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


@dataclass(frozen=True, slots=True, eq=False)
class PeriodicState(Waves):
    """One mains cycle of every voltage and current in the steady state.

    Read it as :class:`~coldcheck.lint.physics.waves.Waves`; of a tube ``amperes`` is the plate
    current.
    """

    swinging: NDArray[np.bool_]
    """(p,) which diodes were solved over the cycle, as rectifiers."""
    junction_volts: Array
    """(swinging, samples) of those diodes."""
    still_volts: Array
    """(m,) mean port voltages of tubes and of the other diodes."""
    tube_amperes: Array
    """(m, samples) port currents of the tubes."""
    feedback: Feedback
    """What the network answers to the currents of the rectifiers."""

    def averaged(self) -> Averaged:
        """The rectifiers as a dc source, for loads that differ a little from this one.

        Everything but the mean follows the circuit (:meth:`Feedback.admittance`).  ``amperes``
        counts as the sources of a dc network do: positive into the anode's node.
        """
        diodes = self.network.diodes.subset(self.swinging)
        siemens = self.feedback.admittance(diodes.currents(self.junction_volts)[1])
        flowing = self.junction_amperes[self.swinging].mean(axis=1)
        given = siemens @ self.junction_volts.mean(axis=1) - flowing
        return Averaged(self.network.diode_ports[self.swinging], siemens, given)

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
    voltage, to start from.  Raises NotSolved, naming a node or element, when it does not settle,
    ValueError for an odd or tiny number of samples.
    """
    if samples < 8 or samples % 2:
        raise ValueError("samples must be even and at least 8")
    network = Network(circuit)
    swinging = _swinging(network) if start is None else start.swinging
    if swinging.size != network.diodes.count:
        swinging, start = _swinging(network), None
    while True:
        try:
            state = _settle(network, swinging, samples, start)
            bent = _bent(state)
        except NotSolved:
            if np.all(swinging):
                raise
            bent = ~swinging
        if not np.any(bent):
            return state
        swinging, start = swinging | bent, None


def _swinging(network: Network) -> NDArray[np.bool_]:
    """Which diodes see the mains while none conducts: the rectifiers."""
    rows = network.diode_ports
    leaky = _tune(network, rows.T @ rows * SEEN_THROUGH, np.zeros(network.size), 2)
    return np.asarray(np.abs(rows @ leaky.source[1]) > RECTIFIER_VOLTS)


def _bent(state: PeriodicState) -> NDArray[np.bool_]:
    """Which linearised diodes swing too far for it."""
    network = state.network
    volts = network.diode_ports @ state.solution
    miss = np.abs(network.diodes.currents(volts)[0] - state.junction_amperes).max(axis=1)
    most = np.abs(state.junction_amperes).max(axis=1)
    return np.asarray(~state.swinging & (miss > 1e-6 + BENDING * most))


def _settle(
    network: Network,
    swinging: NDArray[np.bool_],
    samples: int,
    start: PeriodicState | None,
) -> PeriodicState:
    """The steady state, with the ``swinging`` diodes in the time domain, the rest linearised."""
    rows = network.diode_ports[swinging]
    diodes = network.diodes.subset(swinging)
    still = Devices(network, network.diodes.subset(~swinging), network.diode_ports[~swinging])
    volts, junction = still.start, None
    blind = True
    if start is not None and start.still_volts.size == still.count:
        volts, blind = start.still_volts, False
        if start.junction_volts.shape == (diodes.count, samples):
            junction = start.junction_volts
    blind = blind and still.count > 0
    for _ in range(PASSES):
        current, jacobian = _resting(still, volts) if blind else still.law(volts)
        matrix = still.ports.T @ jacobian @ still.ports
        source = still.ports.T @ (jacobian @ volts - current)
        tuned = _tune(network, matrix, source, samples, rows)
        feedback, opened = _feedback(rows, tuned, samples)
        warm = junction is not None
        if junction is None:
            junction = _guess(opened)
        found, junction, amperes = feedback.solve(diodes, opened, junction, warm)
        if not found:
            miss = np.abs(junction - opened + feedback.drop(amperes)).max(axis=1)
            name = diodes.names[int(np.argmax(miss))]
            raise NotSolved(f"the current of rectifier {name} does not settle", elements=(name,))
        solution = _waveforms(tuned, amperes)
        mean = solution[0].real / samples
        moved = still.ports @ mean - volts
        if not blind and np.all(np.abs(moved) <= CLOSED * (1.0 + np.abs(volts))):
            checked(network, mean)
            rectifiers = (swinging, junction, amperes)
            return _state(network, solution, feedback, rectifiers, still, volts + moved)
        admittance = feedback.admittance(diodes.currents(junction)[1])
        given = admittance @ junction.mean(axis=1) - amperes.mean(axis=1)
        x = solve(
            network,
            still.equations(
                network.dc + rows.T @ admittance @ rows, network.steady + rows.T @ given
            ),
            still.start if blind else volts + moved,
        )
        volts, blind = still.ports @ x, False
    worst = int(np.argmax(np.abs(still.ports.T @ moved)))
    node = network.node_of(worst)
    what = f"the supply and its load find no common state; node {node} keeps moving"
    raise NotSolved(what, (node,))


def _resting(still: Devices, volts: Array) -> tuple[Array, Array]:
    """The tubes as resistors, the diodes open: currents and Jacobian for a first pass."""
    split = still.tubes.count
    current, jacobian = np.zeros(still.count), np.zeros((still.count, still.count))
    resting = still.tubes.resting(volts[:split])
    current[:split], jacobian[:split, :split] = resting
    return current, jacobian


def _tune(
    network: Network, matrix: Array, source: Array, samples: int, rows: Array | None = None
) -> Tuned:
    """Response at dc and at each harmonic, ``matrix`` and ``source`` standing for the tubes.

    ``rows`` (p, n): the ports of D whose currents are left open.

    With M = G + sigma C solved once, each harmonic needs only a system of the size of the
    reactive elements (Sherman-Morrison-Woodbury); sigma, real, keeps M well conditioned.
    """
    storage, incidence = network.storage, network.incidence
    entry = np.zeros((network.size, 0)) if rows is None else rows.T
    ports = entry.shape[1]
    harmonics = np.arange(1, samples // 2 + 1)
    shift = 4.0 * network.omega
    columns = np.column_stack([entry, network.sine, network.cosine, incidence])
    whole = network.ac + matrix + (incidence * (shift * storage)) @ incidence.T
    still = network.solved(network.dc + matrix, np.column_stack([entry, network.steady + source]))
    moving = network.solved(whole, columns)
    given, stored = moving[:, : ports + 2], moving[:, ports + 2 :]
    inner = storage[:, None] * (incidence.T @ stored)
    outer = storage[:, None] * (incidence.T @ given)
    rates = (_rates(network.omega, harmonics) - shift)[:, None, None]
    eye = np.eye(storage.size)
    response = given - stored @ np.linalg.solve(eye + rates * inner, rates * outer)
    transfer = np.concatenate([still[None, :, :ports], response[:, :, :ports]])
    free = np.zeros((harmonics.size + 1, network.size), dtype=complex)
    free[0] = samples * still[:, ports]
    free[1] = 0.5 * samples * (response[0, :, ports + 1] - 1j * response[0, :, ports])
    return Tuned(free, transfer)


def _rates(omega: float, harmonics: NDArray[np.int_]) -> Complex:
    """Time derivative of each harmonic, per second.

    A wave that changes sign with every sample has no phase, and what is imaginary of its response
    is lost to samples: a coil would pass it freely.  The last harmonic is given the real rate of
    the same size, at which a coil holds it back and a capacitor lets it pass.
    """
    rates = 1j * omega * harmonics
    rates[-1] = omega * harmonics[-1]
    return np.asarray(rates)


def _feedback(rows: Array, tuned: Tuned, samples: int) -> tuple[Feedback, Array]:
    """The response seen by the diodes, and their voltages without their currents."""
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
    feedback: Feedback,
    rectifiers: tuple[NDArray[np.bool_], Array, Array],
    still: Devices,
    volts: Array,
) -> PeriodicState:
    """Turn harmonics into waveforms and collect them."""
    samples = feedback.samples
    rates = _rates(network.omega, np.arange(solution.shape[0]))
    waves = np.fft.irfft(solution, samples, axis=0).T
    charging = np.fft.irfft(rates[:, None] * (solution @ network.incidence), samples, axis=0).T
    current, jacobian = still.law(volts)
    steady = current[:, None] + jacobian @ (still.ports @ waves - volts[:, None])
    split = network.tubes.count
    amperes = np.empty((network.diodes.count, samples))
    swinging, junction, amperes[rectifiers[0]] = rectifiers
    amperes[~swinging] = steady[split:]
    cycle = 2.0 * np.pi / network.omega
    return PeriodicState(
        time=(cycle / samples) * np.arange(samples, dtype=float),
        network=network,
        solution=waves,
        charging=charging,
        junction_amperes=amperes,
        swinging=swinging,
        junction_volts=junction,
        still_volts=volts,
        tube_amperes=steady[:split],
        feedback=feedback,
    )
