"""Small signal: gains, impedances, corners and loop gain about a steady state.

Tubes are their slopes at the operating point, rectifiers the dc source their load sees in the
mean; so what is said of a supply node holds below the mains frequency, and above it as far as a
reservoir is a short.  With the matrices of :mod:`coldcheck.lint.physics.stability`,

    x = G^-1 b - s G^-1 E D (1 + s M D)^-1 E^T G^-1 b,   M = E^T G^-1 E,   D = diag(c)

where b is what enters.  The eigenvalues of M D, found once, make of every transfer function a sum
of poles, so that a frequency more costs next to nothing; at some frequencies the system itself is
solved too, and where the two differ the sum is not used.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.physics.circuit import Capacitor, Resistor, Transformer
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.large_signal import GENERATOR_OHMS, Generator
from coldcheck.lint.physics.matrices import BRANCH_OHMS, Network
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.stability import slopes, steady_slopes

Complex = NDArray[np.complex128]
Port = tuple[str, str]
"""Two nodes: a voltage is that of the first over the second, a current enters the first."""

MIDDLE = 1000.0
"""Hertz at which gains are given; common practice, no source."""
LOWEST, HIGHEST, PER_DECADE = 1e-2, 1e8, 24
"""Where corners are looked for, in hertz, and how closely; our choice."""
HALF_POWER = 0.5**0.5
"""Of the gain in the middle: the usual corner, 3.01 dB down."""
TRIED = (0.1, 50.0, 1e3, 1e5, 1e7)
"""Hertz at which the sum of poles is held against the system itself; our choice."""
AGREED = 1e-6
"""Relative difference that is let pass there; our choice."""
ROUNDS, ZOOM = 5, 9
"""Times that the place of a crossing is narrowed down, and points each time: to one part in 3e4 of
the step it was seen in; our choice."""


class Band(NamedTuple):
    """Gain in the middle, and the nearest frequencies either side where half the power is left."""

    gain: complex
    """At :data:`MIDDLE`."""
    low: float
    """Hertz; 0 when it goes down to dc, or to :data:`LOWEST`."""
    high: float
    """Hertz; infinite when beyond :data:`HIGHEST`."""


class Margins(NamedTuple):
    """How far a feedback loop is from oscillating.

    The loop gain is positive where feedback is negative; it would oscillate at -1.
    """

    loop: complex
    """At :data:`MIDDLE`."""
    phase: tuple[tuple[float, float], ...]
    """Hertz at which the loop gain is 1 in size, and degrees it is then from -1."""
    gain: tuple[tuple[float, float], ...]
    """Hertz at which it is negative and real, and decibels from there to -1: positive when it is
    the smaller.  Where it is larger the loop may still be stable, and is so only as long as nothing
    ages."""


class Branch(NamedTuple):
    """Parts in parallel that carry feedback between two nodes."""

    names: tuple[str, ...]
    a: str
    b: str


class SmallSignal:
    """A circuit about ``state``, each of ``generators`` a source of 0 V behind its resistance.

    ``added``: capacitors that the state was found without, since no dc flows in them (those of
    tubes, of a cable, of a loudspeaker that is a capacitor).  ``changed``: resistors, capacitors
    and what is wound that have another value here, though the operating point stays: infinite ohms,
    or 0 farads, for one that is taken out; those halves of a volume control.
    Raises NotSolved where the circuit has no single solution.
    """

    def __init__(
        self,
        state: PeriodicState,
        generators: Sequence[Generator] = (),
        added: Sequence[Capacitor] = (),
        changed: Mapping[str, float] = MappingProxyType({}),
    ) -> None:
        network = state.network
        self.network, self.generators, self._state = network, tuple(generators), state
        self._heard: dict[tuple[Port, float], Complex] = {}
        rows, averaged, _ = state.averaged()
        matrix = network.dc + slopes(state) + rows.T @ averaged @ rows
        for generator in self.generators:
            self._conductance(matrix, (generator.a, generator.b), _siemens(generator))
        storage = network.storage.copy()
        for name, value in changed.items():
            element = network.elements[name]
            if name in network.column:
                held = network.column[name]
                storage[held] = np.copysign(value, storage[held])
            elif isinstance(element, Resistor) and element.ohms >= BRANCH_OHMS:
                siemens = 1.0 / max(value, BRANCH_OHMS) - 1.0 / element.ohms
                self._conductance(matrix, (element.a, element.b), siemens)
            else:
                raise ValueError(f"{name} can not be changed")
        more = [capacitor for capacitor in added if capacitor.farads > 0.0]
        kept = storage != 0.0
        self._stores = [name for name, k in network.column.items() if kept[k]]
        self._stores += [capacitor.name for capacitor in more]
        self._storage = np.concatenate([storage[kept], [c.farads for c in more]])
        columns = [self.row((c.a, c.b)) for c in more]
        self._incidence = np.column_stack([network.incidence[:, kept], *columns])
        self._matrix = matrix
        self._seen = network.solved(matrix, self._incidence)
        self._loops = self._incidence.T @ self._seen

    def row(self, port: Port) -> Array:
        """(n,): its product with the unknowns is the port's voltage; as a column, 1 A enters."""
        return np.asarray(self.network.rows([port])[0])

    def matrix(self, hertz: float) -> Complex:
        """(n, n) the whole system at one frequency: its inverse takes amperes to the unknowns."""
        s = 2j * np.pi * hertz
        return np.asarray(
            self._matrix + (self._incidence * (s * self._storage)) @ self._incidence.T
        )

    def transfer(self, entries: Sequence[Port], outputs: Sequence[Port], hertz: Array) -> Complex:
        """Volts at each output for 1 A entering each port, (f, outputs, entries), in ohms."""
        columns = np.column_stack([self.row(port) for port in entries])
        return self._transfer(columns, outputs, hertz)

    def gains(self, outputs: Sequence[Port], hertz: Array) -> Complex:
        """Volts at each output for 1 V of every generator at once, (f, outputs)."""
        return self._transfer(self.entry()[:, None], outputs, hertz)[:, :, 0]

    def entry(self) -> Array:
        """What 1 V of every generator puts into the system, (n,)."""
        entry = np.zeros(self.network.size)
        for generator in self.generators:
            entry += _siemens(generator) * self.row((generator.a, generator.b))
        return entry

    def impedance(self, port: Port, hertz: Array) -> Complex:
        """What is seen into a port, all that is connected there included, (f,), in ohms."""
        return self.transfer([port], [port], hertz)[:, 0, 0]

    def brought(self, port: Port, output: Port, hertz: Array) -> Complex:
        """Volts at an output for each volt that something outside moves a port by, (f,)."""
        ohms = self.transfer([port], [port, output], hertz)[:, :, 0]
        return np.asarray(ohms[:, 1] / ohms[:, 0])

    def leans(self, output: Port, hertz: float) -> dict[str, float]:
        """How the size of a gain leans on each capacitor, coil and transformer at one frequency.

        d ln|gain| / d ln value, by name: 0.5 in all at a corner that is one of them alone's.
        """
        inverse = np.linalg.inv(self.matrix(hertz))
        row, entry = self.row(output) @ inverse, inverse @ self.entry()
        each = (row @ self._incidence) * (self._incidence.T @ entry) * self._storage
        leaning = -2j * np.pi * hertz * each / (row @ self.entry())
        return dict(zip(self._stores, leaning.real.tolist(), strict=True))

    def in_series(self, element: str) -> Array:
        """What 1 V in series with a choke, or on the core of a transformer, puts in, (n,).

        On a core it is that of its first coil, and every coil has it by its turns, as of a flux
        that comes from elsewhere.
        """
        network, entry = self.network, np.zeros(self.network.size)
        wound = isinstance(network.elements[element], Transformer)
        entry[network.branch[element] - (0 if wound else 1)] = 1.0
        return entry

    def at_grid(self, tube: str) -> Array:
        """What 1 V in series with a tube's grid puts in, (n,)."""
        devices, slope = steady_slopes(self._state)
        return np.asarray(-devices.ports.T @ slope[:, self.network.tubes.grid_port[tube]])

    def heard(self, entry: Array, output: Port, hertz: float) -> complex:
        """Volts at an output for what enters, at one frequency.

        Solved once for an output, from its end, whatever enters.
        """
        if (output, hertz) not in self._heard:
            found = np.linalg.solve(self.matrix(hertz).T, self.row(output))
            self._heard[output, hertz] = np.asarray(found)
        return complex(self._heard[output, hertz] @ entry)

    def ways(self, entries: Sequence[Port], outputs: Sequence[Port]) -> Callable[[Array], Complex]:
        """As :meth:`transfer`, made ready for being asked of many frequencies many times."""
        return self._ways(np.column_stack([self.row(port) for port in entries]), outputs)

    def _transfer(self, columns: Array, outputs: Sequence[Port], hertz: Array) -> Complex:
        if np.size(hertz) != 1:
            return self._ways(columns, outputs)(hertz)
        rows = np.stack([self.row(port) for port in outputs])
        return np.asarray(rows @ np.linalg.solve(self.matrix(float(hertz[0])), columns))[None]

    def _ways(self, columns: Array, outputs: Sequence[Port]) -> Callable[[Array], Complex]:
        rows = np.stack([self.row(port) for port in outputs])
        still = self.network.solved(self._matrix, columns)
        right, left = self._incidence.T @ still, rows @ self._seen * self._storage
        base = rows @ still
        if self._poles is None:
            return lambda hertz: np.stack(
                [base - s * left @ self._direct(s, right) for s in 2j * np.pi * np.asarray(hertz)]
            )
        poles, vectors, inverse = self._poles
        parts = (left @ vectors)[:, None, :] * (inverse @ right).T
        flat = parts.reshape(-1, poles.size).T

        def summed(hertz: Array) -> Complex:
            s = 2j * np.pi * np.asarray(hertz, dtype=float)[:, None]
            return np.asarray(base - ((s / (1.0 + s * poles)) @ flat).reshape(-1, *base.shape))

        return summed

    def _direct(self, s: complex, right: Array | Complex) -> Complex:
        unit = np.eye(self._storage.size)
        return np.asarray(np.linalg.solve(unit + s * self._loops * self._storage, right))

    @functools.cached_property
    def _poles(self) -> tuple[Complex, Complex, Complex] | None:
        """Eigenvalues of M D in seconds, eigenvectors and their inverse; None where they mislead."""
        if not self._storage.size:
            return None
        # scaled so that farads and henries do not drown each other; similar, so nothing is changed
        root = np.sqrt(np.abs(self._storage))
        scaled = root[:, None] * self._loops * (np.sign(self._storage) * root)
        try:
            delays, vectors = np.linalg.eig(scaled)
            inverse = np.linalg.inv(vectors)
        except np.linalg.LinAlgError:
            return None
        poles: tuple[Complex, Complex, Complex] = (
            np.asarray(delays, dtype=complex),
            np.asarray(vectors / root[:, None], dtype=complex),
            np.asarray(inverse * root, dtype=complex),
        )
        trial = np.ones((self._storage.size, 1)) * root[:, None]
        for hertz in TRIED:
            s = 2j * np.pi * hertz
            quick = poles[1] @ ((poles[2] @ trial) / (1.0 + s * poles[0])[:, None])
            whole = self._direct(s, trial)
            if (
                np.abs((quick - whole) * root[:, None]).max()
                > AGREED * np.abs(whole * root[:, None]).max()
            ):
                return None
        return poles

    def _conductance(self, matrix: Array, port: Port, siemens: float) -> None:
        row = self.row(port)
        matrix += siemens * np.outer(row, row)


def _siemens(generator: Generator) -> float:
    return 1.0 / max(generator.ohms, GENERATOR_OHMS)


def band(gain: Callable[[Array], Complex]) -> Band:
    """Corners of a gain, given as a function of frequencies (f,) to (f,)."""
    middle = complex(gain(np.array([MIDDLE]))[0])
    want = HALF_POWER * abs(middle)

    def excess(hertz: Array) -> Array:
        return np.asarray(np.abs(gain(hertz)) - want)

    found = crossings(excess, grid())
    below, above = [f for f in found if f < MIDDLE], [f for f in found if f > MIDDLE]
    return Band(middle, max(below, default=0.0), min(above, default=np.inf))


def loop_gain(
    state: PeriodicState,
    branch: Branch,
    generators: Sequence[Generator] = (),
    added: Sequence[Capacitor] = (),
    changed: Mapping[str, float] = MappingProxyType({}),
    times: float = 1.0,
) -> Callable[[Array], Complex]:
    """The loop gain about a feedback branch, of frequencies (f,) to (f,).

    ``times``: what the branch's impedance is multiplied with.

    Of the two ends of the cut branch, seen as a two-port, (y12 + y21) / (y11 + y22): the
    bidirectional loop gain of M. Tian, V. Visvanathan, J. Hantgan, K. Kundert, "Striving for
    small-signal stability", IEEE Circuits Devices Mag. 17 (1), 31, 2001.
    """
    elements = [state.network.elements[name] for name in branch.names]
    out = {e.name: 0.0 if isinstance(e, Capacitor) else np.inf for e in elements}
    opened = SmallSignal(state, generators, added, {**changed, **out})
    ground = state.network.circuit.ground
    ports = [(branch.a, ground), (branch.b, ground)]
    ways = opened.ways(ports, ports)

    def loop(hertz: Array) -> Complex:
        z = ways(hertz)
        s = 2j * np.pi * np.asarray(hertz, dtype=float)
        siemens = sum(
            (s * e.farads if isinstance(e, Capacitor) else 1.0 / e.ohms + 0.0 * s)
            for e in elements
            if isinstance(e, Capacitor | Resistor)
        )
        return np.asarray(-(z[:, 0, 1] + z[:, 1, 0]) / (z[:, 0, 0] + z[:, 1, 1] + times / siemens))

    return loop


def margins(loop: Callable[[Array], Complex]) -> Margins:
    """Phase margins at every frequency where a loop gain is 1, gain margins where it is negative."""
    places = grid()

    def size(hertz: Array) -> Array:
        return np.asarray(np.log(np.abs(loop(hertz))))

    def imaginary(hertz: Array) -> Array:
        turned = loop(hertz)
        return np.asarray(turned.imag / np.abs(turned))

    at_one = crossings(size, places)
    phases = 180.0 - np.abs(np.degrees(np.angle(loop(np.array(at_one)))))
    real = crossings(imaginary, places)
    turned = [(f, complex(loop(np.array([f]))[0])) for f in real]
    gains = [(f, -20.0 * float(np.log10(abs(t)))) for f, t in turned if t.real < 0.0]
    middle = complex(loop(np.array([MIDDLE]))[0])
    return Margins(middle, tuple(zip(at_one, phases.tolist(), strict=True)), tuple(gains))


def grid() -> Array:
    """Frequencies at which corners and crossings are looked for, in hertz."""
    decades = np.log10(HIGHEST / LOWEST)
    return np.geomspace(LOWEST, HIGHEST, round(decades * PER_DECADE) + 1)


def crossings(value: Callable[[Array], Array], places: Array) -> list[float]:
    """Where a continuous function of frequency passes through 0, in order."""
    found = []
    values = value(places)
    for k in np.flatnonzero(values[:-1] * values[1:] <= 0.0):
        if values[k + 1] == 0.0:
            continue  # it is seen once more from the other side
        low, high = float(places[k]), float(places[k + 1])
        for _ in range(ROUNDS):
            inner = np.geomspace(low, high, ZOOM)
            sign = np.sign(value(inner))
            passed = np.flatnonzero(sign[:-1] * sign[1:] <= 0.0)
            if not passed.size:
                break
            low, high = float(inner[passed[0]]), float(inner[passed[0] + 1])
        found.append((low * high) ** 0.5)
    return found


def known(network: Network, port: Port) -> bool:
    """Whether the network has both nodes of a port."""
    return all(node in network.index for node in port)
