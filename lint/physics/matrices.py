"""Modified nodal analysis: one set of matrices that every solver shares.

Unknowns x are the node voltages, then the currents of sources, inductors, coils and very small
resistors, and two per transformer: the volts at its first coil per turn ratio, and the magnetising
current seen there.  Iron that saturates adds two more, a bridge on a winding of its own one, the
current that holds its opposite arms alike.  The circuit is

    G x + C x' + D^T i(D x) = s(t)

where D takes the unknowns to the port voltages of whatever is not linear, and i are the port
currents.
C is kept as E diag(c) E^T, one column of E for each capacitor, inductor and magnetising inductance.
C. W. Ho, A. E. Ruehli, P. A. Brennan, "The modified nodal approach to network analysis",
IEEE Trans. Circuits Syst. 22, 504, 1975.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from coldcheck.lint.physics.bridges import Bridge, twins
from coldcheck.lint.physics.bridges import bridges as found_bridges
from coldcheck.lint.physics.circuit import (
    Bipolar,
    Capacitor,
    Circuit,
    Coil,
    CurrentLoad,
    Element,
    Inductor,
    Mosfet,
    NotSolved,
    Pentode,
    Regulator,
    Resistor,
    SiliconDiode,
    Source,
    Transformer,
    Triode,
)
from coldcheck.lint.physics.devices import Array, Tubes
from coldcheck.lint.physics.floating import Clusters, terminals
from coldcheck.lint.physics.junctions import Junctions
from coldcheck.lint.physics.leaks import leaks
from coldcheck.lint.physics.usable import require_numbers

CORE_LEAK = 1e-12
"""Magnetising conductance in siemens of an ideal core, so that an undriven one has a voltage."""

SMALLEST_OHMS = 1e-6
"""Least resistance in ohms of a wire or coil; keeps loops of ideal coils solvable; our choice."""

BRANCH_OHMS = 1e-3
"""Below this, in ohms, a resistor has its current as an unknown, for the sake of rounding."""


def _names(circuit: Circuit) -> Iterator[str]:
    for element in circuit.elements:
        yield element.name
        if isinstance(element, Transformer):
            for coil in element.coils:
                yield coil.name


class Network:
    """The matrices of a circuit.

    Attributes (n unknowns without ground, p ports of diodes and their like, m tube ports, r
    reactive elements):
    ``dc`` (n, n) is G for steady currents, ``ac`` (n, n) for changing ones: they differ only in
    that an ideal core passes no steady voltage.  ``incidence`` (n, r) is E, ``storage`` (r,) is c.
    ``steady``, ``sine`` and ``cosine`` (n,) make s(t).  ``tube_ports`` (m, n) and ``diode_ports``
    (p, n) are the rows of D, in the order of ``tubes`` and of ``diodes``, which holds whatever is
    neither linear nor a tube.  ``branch``, ``flux`` and ``column`` find the current, the flux and
    the storage of an element by its name.  ``nodes`` is the number of leading rows that are
    Kirchhoff's current law.  ``bridges`` are those of which opposite arms share a port, those that
    :func:`coldcheck.lint.physics.bridges.bridges` finds when not given.  Raises NotSolved when a
    value is unusable or sources form a loop.
    """

    def __init__(self, circuit: Circuit, bridges: Sequence[Bridge] | None = None) -> None:
        self.circuit = circuit
        self.bridges = found_bridges(circuit) if bridges is None else bridges
        self.twins = twins(self.bridges)
        """By the name of a diode that of the one that shares its port."""
        self.shared = {second: first for first, second in self.twins.items()}
        """And the other way round."""
        self.elements: dict[str, Element | Coil] = {}
        self.ends: dict[str, tuple[str, str]] = {}
        """First and second terminal of each two-terminal element and coil."""
        self._check()
        self.omega = 2.0 * math.pi * circuit.mains_hz
        by_kind: dict[type, list[Element]] = {}
        for element in circuit.elements:
            by_kind.setdefault(type(element), []).append(element)
            self.elements[element.name] = element
        self.tubes = Tubes(by_kind.get(Triode, []), by_kind.get(Pentode, []))  # type: ignore[arg-type]
        self.diodes = Junctions.of(circuit, self.twins)

        self.index: dict[str, int] = {circuit.ground: 0}
        for element in circuit.elements:
            for node in terminals(element):
                self.index.setdefault(node, len(self.index))
        self.named = len(self.index)
        size = self.named
        self.junction: dict[str, int] = {}
        junction = self.junction
        for element in circuit.elements:
            if isinstance(element, SiliconDiode) and element.ohms > 0.0:
                junction[element.name] = size
                size += 1
        self.nodes = size - 1
        self.branch: dict[str, int] = {}
        self.flux: dict[str, int] = {}
        self.column: dict[str, int] = {}
        for element in circuit.elements:
            size += self._claim(element, size)
        self.balance = {bridge.one[0]: size + k for k, bridge in enumerate(self.bridges)}
        size += len(self.bridges)

        self.size = size - 1
        self._dc = np.zeros((size, size))
        self._core: list[tuple[int, int]] = []
        self._columns: list[tuple[int, int, float]] = []
        self._steady, self._sine, self._cosine = np.zeros(size), np.zeros(size), np.zeros(size)
        for element in circuit.elements:
            self._stamp(element, junction)
        for first, second, siemens in leaks(circuit):
            self._conductance(self.index[first], self.index[second], siemens)
        self._balance()
        incidence = np.zeros((size, len(self._columns)))
        for column, (a, b, _) in enumerate(self._columns):
            incidence[a, column] += 1.0
            if b >= 0:
                incidence[b, column] -= 1.0
        self.storage = np.array([c for _, _, c in self._columns])
        self.incidence = incidence[1:]
        ac = self._dc.copy()
        for drive, magnetising in self._core:
            ac[magnetising, drive] = CORE_LEAK
            ac[magnetising, magnetising] = -1.0
        self.dc, self.ac = self._dc[1:, 1:], ac[1:, 1:]
        self.steady, self.sine, self.cosine = self._steady[1:], self._sine[1:], self._cosine[1:]
        at = self.index
        self.tube_ports = self._rows([(at[a], at[b]) for a, b in self.tubes.terminals])
        self.diode_ports = self._rows(
            [
                (self.flux[name], 0)
                if name in self.flux
                else (junction.get(name, at[first]), at[second])
                for name, (first, second) in zip(self.diodes.names, self.diodes.ends, strict=True)
            ]
        )
        for name, twin in self.twins.items():
            self.diode_ports[self.port(name)] += self._diode(twin)

    def port(self, name: str) -> int:
        """Which of ``diodes`` a device is, the first of its ports; ValueError when none is."""
        return self.diodes.names.index(self.shared.get(name, name))

    def volts(self, x: Array, node: str) -> Array:
        """Voltage of ``node`` in a solution ``x`` of shape (n, ...); KeyError when unknown."""
        k = self.index[node]
        return np.zeros(x.shape[1:]) if k == 0 else x[k - 1]

    def across(self, x: Array, name: str) -> Array:
        """Voltage from the first to the second terminal of a two-terminal element or coil."""
        first, second = self.ends[name]
        return np.asarray(self.volts(x, first) - self.volts(x, second))

    def rows(self, ports: Sequence[tuple[str, str]]) -> Array:
        """(ports, n): their products with the unknowns are the voltages of first nodes over second
        ones; as columns, 1 A enters each port."""
        return self._rows([(self.index[a], self.index[b]) for a, b in ports])

    def solved(self, matrix: Array, columns: Array) -> Array:
        """matrix^-1 columns; NotSolved, naming where the circuit has no single solution."""
        try:
            return np.asarray(np.linalg.solve(matrix, columns))
        except np.linalg.LinAlgError:
            free = np.abs(np.linalg.svd(matrix)[2][-1])
            name = self.node_of(int(np.argmax(free)))
            raise NotSolved(f"the circuit around {name} has no single solution", (name,)) from None

    def places(self) -> dict[tuple[str, str], int]:
        """Unknowns by what they are and of which node or element, those that have a name."""
        named = {
            "node": self.index,
            "junction": self.junction,
            "branch": self.branch,
            "flux": self.flux,
            "balance": self.balance,
        }
        return {(what, of): k - 1 for what, each in named.items() for of, k in each.items() if k}

    def node_of(self, unknown: int) -> str:
        """Name of the node, or else of the element, that an unknown belongs to."""
        for names in (self.index, self.branch, self.balance):
            for name, k in names.items():
                if k == unknown + 1:
                    return name
        return self.circuit.ground

    def _check(self) -> None:
        hertz = self.circuit.mains_hz
        if not (math.isfinite(hertz) and hertz > 0.0):
            raise NotSolved("the mains frequency is not usable")
        seen: set[str] = set()
        for name in _names(self.circuit):
            if name in seen:
                raise NotSolved(f"two elements are called {name}", elements=(name,))
            seen.add(name)
        loops = Clusters()
        for element in self.circuit.elements:
            require_numbers(element)
            if isinstance(element, Source) and not loops.join(element.a, element.b):
                what = f"source {element.name} is shorted by itself or by other sources"
                raise NotSolved(what, (element.a, element.b), (element.name,))
            if isinstance(element, Transformer):
                self.elements |= {coil.name: coil for coil in element.coils}
                self.ends |= {coil.name: (coil.a, coil.b) for coil in element.coils}
            elif not isinstance(element, Triode | Pentode | Bipolar | Mosfet | Regulator):
                first, second = terminals(element)
                self.ends[element.name] = (first, second)

    def _claim(self, element: Element, size: int) -> int:
        """Reserve the current unknowns of an element; how many they are."""
        match element:
            case Source():
                self.branch[element.name] = size
                return 1
            case Inductor():
                self.branch[element.name] = size
                return 1 + self._claim_iron(element, size + 1)
            case Resistor() if element.ohms < BRANCH_OHMS:
                self.branch[element.name] = size
                return 1
            case Transformer():
                for k, coil in enumerate(element.coils):
                    self.branch[coil.name] = size + k
                self.branch[element.name] = size + len(element.coils)
                size += len(element.coils) + 2
                return len(element.coils) + 2 + self._claim_iron(element, size)
            case _:
                return 0

    def _claim_iron(self, element: Inductor | Transformer, size: int) -> int:
        if element.saturation is None:
            return 0
        self.flux[element.name] = size
        return 2

    def _conductance(self, a: int, b: int, siemens: float) -> None:
        g = self._dc
        g[a, a] += siemens
        g[b, b] += siemens
        g[a, b] -= siemens
        g[b, a] -= siemens

    def _branch(self, name: str, a: str, b: str, ohms: float) -> int:
        """A branch whose row reads v_a - v_b - ohms i = ...; returns the row."""
        g, k, i, j = self._dc, self.branch[name], self.index[a], self.index[b]
        g[i, k] += 1.0
        g[j, k] -= 1.0
        g[k, i] += 1.0
        g[k, j] -= 1.0
        g[k, k] -= ohms
        return k

    def _stamp(self, element: Element, junction: dict[str, int]) -> None:
        at = self.index
        match element:
            case Resistor() if element.ohms < BRANCH_OHMS:
                ohms = max(element.ohms, SMALLEST_OHMS)
                self._branch(element.name, element.a, element.b, ohms)
            case Resistor():
                self._conductance(at[element.a], at[element.b], 1.0 / element.ohms)
            case Capacitor() if element.farads > 0.0:
                self.column[element.name] = len(self._columns)
                self._columns.append((at[element.a], at[element.b], element.farads))
            case Inductor():
                ohms = max(element.ohms, SMALLEST_OHMS)
                row = self._branch(element.name, element.a, element.b, ohms)
                if element.henries > 0.0:
                    self._inductance(element, row, element.henries)
            case Source():
                row = self._branch(element.name, element.a, element.b, 0.0)
                self._steady[row] = element.dc
                self._sine[row] = element.peak * math.cos(element.phase)
                self._cosine[row] = element.peak * math.sin(element.phase)
            case CurrentLoad():
                self._steady[at[element.a]] -= element.amperes
                self._steady[at[element.b]] += element.amperes
            case SiliconDiode() if element.name in junction:
                self._conductance(at[element.anode], junction[element.name], 1.0 / element.ohms)
            case Transformer():
                self._transformer(element)
            case _:
                pass

    def _transformer(self, element: Transformer) -> None:
        """v_j - ohms_j i_j = n_j w;  sum n_j i_j = i_m;  w = L i_m' (or i_m = 0 if ideal)."""
        g, drive = self._dc, self.branch[element.name]
        magnetising = drive + 1
        for coil in element.coils:
            ratio = coil.turns / element.coils[0].turns
            row = self._branch(coil.name, coil.a, coil.b, max(coil.ohms, SMALLEST_OHMS))
            g[row, drive] -= ratio
            g[drive, row] -= ratio
        g[drive, magnetising] = 1.0
        g[magnetising, drive] = 1.0
        if element.magnetising is None:
            self._core.append((drive, magnetising))
        else:
            self._inductance(element, magnetising, element.magnetising)

    def _inductance(self, element: Inductor | Transformer, row: int, henries: float) -> None:
        """Complete ``row``, whose unknown is a current i and which so far reads volts = 0.

        Where iron saturates that equation moves to the second of two more unknowns u and q, both
        the flux times the mains' angular frequency, in volts:

            volts - q' / omega = 0,   u / (omega L) - i + extra(u) = 0,   u - q = 0.

        Two, so that the port of the extra current, and the storage too, are symmetrical.
        """
        g, storing, weight = self._dc, row, -henries
        if element.saturation is not None:
            flux = self.flux[element.name]
            storing, weight = flux + 1, -1.0 / self.omega
            g[storing], g[row] = g[row], 0.0
            g[row, flux], g[row, storing] = 1.0, -1.0
            g[flux, flux], g[flux, row] = 1.0 / (self.omega * henries), -1.0
        self.column[element.name] = len(self._columns)
        self._columns.append((storing, -1, weight))

    def _balance(self) -> None:
        """v_one - v_other = 0 for two opposite arms of a bridge, and a current that sees to it.

        It is none but what the winding leaks, since nothing else can hold its mean voltage.
        """
        for bridge in self.bridges:
            row = self.balance[bridge.one[0]]
            one, opposite = (self._diode(name) for name in bridge.one)
            self._dc[row, 1:] = self._dc[1:, row] = one - opposite

    def _diode(self, name: str) -> Array:
        """The row (n,) whose product with the unknowns is the voltage across a diode's junction."""
        anode, cathode = self.ends[name]
        pair = self.junction.get(name, self.index[anode]), self.index[cathode]
        return np.asarray(self._rows([pair])[0])

    def _rows(self, pairs: list[tuple[int, int]]) -> Array:
        rows = np.zeros((len(pairs), self.size + 1))
        for k, (a, b) in enumerate(pairs):
            rows[k, a] += 1.0
            rows[k, b] -= 1.0
        return rows[:, 1:]
