"""Natural motions of a circuit about its steady state: slow swings of a supply, motorboating.

Tubes are their slopes at the operating point, rectifiers the dc source their load sees in the
mean, so what is said holds well below the mains frequency.  With x the unknowns of
:mod:`coldcheck.lint.physics.matrices` and C = E diag(c) E^T,

    (G + J) x + C x' = 0,   y = E^T x:   y = -s H diag(c) y,   H = E^T (G + J)^-1 E

so each eigenvalue of H diag(c) is -1 / s: the size of the problem is that of the capacitors and
coils.  Which of them swing is told by participation factors: I. J. Perez-Arriaga, G. C. Verghese,
F. C. Schweppe, IEEE Trans. Power App. Syst. 101, 3117, 1982.  And the way ripple takes to an
output: which part of it goes when one node is held still.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import Inductor, Transformer
from coldcheck.lint.physics.dc import Devices
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.periodic import PeriodicState

HELD = 1e6
"""How many times larger a capacitor is made to stand for one that holds its voltage: its own
motion is then far slower than any that is asked about; our choice."""
INSTANT = 1e-12
"""Seconds below which a motion is over at once: an eigenvalue that is zero but for rounding."""
STIFF = 1e-9
"""Ohms below which a node is a source's own; our choice."""
LEAST_SHARE = 0.05
"""Participation below which an element is not named; our choice."""


class Mode(NamedTuple):
    """One natural motion, growing or dying as exp(rate t), swinging when the rate is complex."""

    rate: complex
    """1 / s; of a conjugate pair the one with its imaginary part above 0."""
    shares: Mapping[str, float]
    """Capacitors, chokes and transformers that take part, the most first; all add up to 1."""

    @property
    def hertz(self) -> float:
        """Its frequency as if nothing damped it."""
        return abs(self.rate) / (2.0 * math.pi)

    @property
    def damping(self) -> float:
        """Damping ratio: 1 / (2 Q); 1 when it does not swing, below 0 when it grows."""
        return -self.rate.real / abs(self.rate)

    @property
    def unstable(self) -> bool:
        return self.rate.real > 0.0


def modes(state: PeriodicState, times: Mapping[str, float] | None = None) -> tuple[Mode, ...]:
    """Every natural motion of a circuit about a state, the slowest first.

    ``times``: capacitors that are taken that many times larger; :data:`HELD` times holds one's
    voltage, whatever flows.
    """
    network = state.network
    storage = network.storage.copy()
    for name, factor in (times or {}).items():
        storage[network.column[name]] *= factor
    if not storage.size:
        return ()
    matrix = state.averaged().into(network.dc + slopes(state))
    seen = network.incidence.T @ network.solved(matrix, network.incidence)
    # scaled so that farads and henries do not drown each other; similar, so nothing is changed
    root = np.sqrt(np.abs(storage))
    delays, right = np.linalg.eig(root[:, None] * seen * (np.sign(storage) * root))
    try:
        left = np.linalg.inv(right)
    except np.linalg.LinAlgError:
        left = np.linalg.pinv(right)
    names = _names(network)
    found = []
    for k, delay in enumerate(delays):
        if abs(delay) > INSTANT and delay.imag >= 0.0:
            part = np.abs(left[k] * right[:, k])
            found.append(Mode(complex(-1.0 / delay), _shares(names, part / part.sum())))
    return tuple(sorted(found, key=lambda mode: abs(mode.rate)))


def left_without(state: PeriodicState, node: str, output: tuple[str, str]) -> float:
    """Share of an output's ripple that is left when a node is held still; 0: all came by it.

    Judged at the harmonic of the mains that is the largest there.  More than 1 when what comes
    by the node cancels something else; 1 for a node that nothing can move.
    """
    network = state.network
    spectrum: Any = np.fft.rfft(state.solution, axis=1)
    heard = network.volts(spectrum, output[0]) - network.volts(spectrum, output[1])
    k = int(np.argmax(np.abs(heard[1:]))) + 1
    if not network.index[node] or abs(heard[k]) == 0.0:
        return 1.0
    incidence, charging = network.incidence, 1j * k * network.omega * network.storage
    matrix: Any = network.ac + slopes(state) + (incidence * charging) @ incidence.T
    pull: Any = np.zeros((network.size, 1), dtype=complex)
    pull[network.index[node] - 1] = 1.0
    ohms: Any = network.solved(matrix, pull)[:, 0]
    if abs(network.volts(ohms, node)) < STIFF:
        return 1.0
    moved = network.volts(ohms, output[0]) - network.volts(ohms, output[1])
    brought = moved / network.volts(ohms, node) * network.volts(spectrum, node)[k]
    return float(abs(heard[k] - brought) / abs(heard[k]))


def slopes(state: PeriodicState) -> Array:
    """What tubes, and diodes on steady voltage, are to small changes: (n, n), in siemens."""
    devices, slope = steady_slopes(state)
    return np.asarray(devices.ports.T @ slope @ devices.ports)


def steady_slopes(state: PeriodicState) -> tuple[Devices, Array]:
    """Those devices, and the slopes of their currents by their voltages, (ports, ports)."""
    devices = Devices.steady(state.network, state.swinging)
    return devices, devices.law(state.still_volts)[1]


def _names(network: Network) -> list[str]:
    """The element behind each column of E."""
    names = [""] * network.storage.size
    for name, column in network.column.items():
        names[column] = name
    for element in network.circuit.elements:
        match element:
            case Inductor() if element.henries > 0.0:
                row = network.branch[element.name] - 1
            case Transformer() if element.magnetising is not None:
                row = network.branch[element.name]  # its magnetising current, next to its volts
            case _:
                continue
        names[int(np.flatnonzero((network.incidence[row] != 0.0) & (network.storage < 0.0))[0])] = (
            element.name
        )
    return names


def _shares(names: list[str], part: Array) -> dict[str, float]:
    """By size; two channels take part alike but for rounding, and then go by name."""
    pairs = sorted(zip(names, part.tolist(), strict=True), key=lambda p: (-round(p[1], 3), p[0]))
    return {name: share for name, share in pairs if share >= LEAST_SHARE}
