"""Modified nodal analysis: one set of matrices that every solver shares.

Unknowns x are the node voltages, then the currents of sources, inductors, coils and very small
resistors, and two per transformer: the volts at its first coil per turn ratio, and the magnetising
current seen there.  The circuit is

    G x + C x' + D^T i(D x) = s(t)

where D takes node voltages to port voltages of tubes and diodes, and i are their port currents.
C is kept as E diag(c) E^T, one column of E for each capacitor, inductor and magnetising inductance.
C. W. Ho, A. E. Ruehli, P. A. Brennan, "The modified nodal approach to network analysis",
IEEE Trans. Circuits Syst. 22, 504, 1975.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    CurrentLoad,
    Element,
    Inductor,
    NotSolved,
    Pentode,
    Resistor,
    SiliconDiode,
    Source,
    Transformer,
    Triode,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.devices import Array, Diodes, Tubes
from coldcheck.lint.physics.floating import Clusters, dc_paths, terminals

LEAK = 1e-10
"""Conductance in siemens that defines a node nothing else defines; far below real insulation
(10 Gohm against the megohms of a tube circuit) and given to floating nodes only; our choice."""

GRID_LEAK = 1e-12
"""The same for a node that a tube electrode defines; as the usual gmin of circuit simulators."""

CORE_LEAK = 1e-12
"""Magnetising conductance in siemens of an ideal core, so that an undriven one has a voltage."""

SMALLEST_OHMS = 1e-6
"""Least resistance in ohms of a wire or coil; keeps loops of ideal coils solvable; our choice."""

BRANCH_OHMS = 1e-3
"""Below this, in ohms, a resistor has its current as an unknown, for the sake of rounding."""

_LIMITS = {
    "ohms": (0.0, "resistance"),
    "farads": (0.0, "capacitance"),
    "henries": (0.0, "inductance"),
    "saturation": (1e-300, "saturation current"),
    "slope": (1e-6, "slope voltage"),
    "perveance": (1e-300, "perveance"),
    "volts": (1e-3, "breakdown voltage"),
    "turns": (1e-300, "number of turns"),
    "magnetising": (1e-300, "magnetising inductance"),
}


def require_numbers(element: Element) -> None:
    """Refuse values no solver can use, by the element's own name."""
    things: list[Element | Coil] = [element]
    if isinstance(element, Transformer):
        things += element.coils
    for thing in things:
        for name in ("ohms", "farads", "henries", "dc", "peak", "phase", "amperes", *_LIMITS):
            value = getattr(thing, name, None)
            if value is None:
                continue
            least, words = _LIMITS.get(name, (-math.inf, name))
            if not math.isfinite(value) or value < least:
                what = f"{thing.name} has no usable {words}"
                raise NotSolved(what, elements=(thing.name,))


def _names(circuit: Circuit) -> Iterator[str]:
    for element in circuit.elements:
        yield element.name
        if isinstance(element, Transformer):
            for coil in element.coils:
                yield coil.name


class Network:
    """The matrices of a circuit.

    Attributes (n unknowns without ground, p diodes, m tube ports, r reactive elements):
    ``dc`` (n, n) is G for steady currents, ``ac`` (n, n) for changing ones: they differ only in
    that an ideal core passes no steady voltage.  ``incidence`` (n, r) is E, ``storage`` (r,) is c.
    ``steady``, ``sine`` and ``cosine`` (n,) make s(t).  ``tube_ports`` (m, n) and ``diode_ports``
    (p, n) are the rows of D.  ``nodes`` is the number of leading rows that are Kirchhoff's current
    law.  Raises NotSolved when a value is unusable or sources form a loop.
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
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
        silicon = by_kind.get(SiliconDiode, [])
        vacuum, zeners = by_kind.get(TubeDiode, []), by_kind.get(ZenerDiode, [])
        self.diodes = Diodes(silicon, vacuum, zeners)  # type: ignore[arg-type]

        self.index: dict[str, int] = {circuit.ground: 0}
        for element in circuit.elements:
            for node in terminals(element):
                self.index.setdefault(node, len(self.index))
        self.named = len(self.index)
        size = self.named
        junction: dict[str, int] = {}
        for element in silicon:
            if isinstance(element, SiliconDiode) and element.ohms > 0.0:
                junction[element.name] = size
                size += 1
        self.nodes = size - 1
        self.branch: dict[str, int] = {}
        self.column: dict[str, int] = {}
        for element in circuit.elements:
            size += self._claim(element, size)

        self._dc = np.zeros((size, size))
        self._core: list[tuple[int, int]] = []
        self._columns: list[tuple[int, int, float]] = []
        self._steady, self._sine, self._cosine = np.zeros(size), np.zeros(size), np.zeros(size)
        for element in circuit.elements:
            self._stamp(element, junction)
        self._leak()
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
        self.size = size - 1
        at = self.index
        self.tube_ports = self._rows([(at[a], at[b]) for a, b in self.tubes.terminals])
        self.diode_ports = self._rows(
            [
                (junction.get(d.name, at[d.anode]), at[d.cathode])
                for d in (*silicon, *vacuum, *zeners)
                if isinstance(d, SiliconDiode | TubeDiode | ZenerDiode)
            ]
        )

    def volts(self, x: Array, node: str) -> Array:
        """Voltage of ``node`` in a solution ``x`` of shape (n, ...); KeyError when unknown."""
        k = self.index[node]
        return np.zeros(x.shape[1:]) if k == 0 else x[k - 1]

    def across(self, x: Array, name: str) -> Array:
        """Voltage from the first to the second terminal of a two-terminal element or coil."""
        first, second = self.ends[name]
        return np.asarray(self.volts(x, first) - self.volts(x, second))

    def solved(self, matrix: Array, columns: Array) -> Array:
        """matrix^-1 columns; NotSolved, naming where the circuit has no single solution."""
        try:
            return np.asarray(np.linalg.solve(matrix, columns))
        except np.linalg.LinAlgError:
            free = np.abs(np.linalg.svd(matrix)[2][-1])
            name = self.node_of(int(np.argmax(free)))
            raise NotSolved(f"the circuit around {name} has no single solution", (name,)) from None

    def node_of(self, unknown: int) -> str:
        """Name of the node, or else of the element, that an unknown belongs to."""
        for names in (self.index, self.branch):
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
            elif not isinstance(element, Triode | Pentode):
                first, second = terminals(element)
                self.ends[element.name] = (first, second)

    def _claim(self, element: Element, size: int) -> int:
        """Reserve the current unknowns of an element; how many they are."""
        match element:
            case Source() | Inductor():
                self.branch[element.name] = size
                return 1
            case Resistor() if element.ohms < BRANCH_OHMS:
                self.branch[element.name] = size
                return 1
            case Transformer():
                for k, coil in enumerate(element.coils):
                    self.branch[coil.name] = size + k
                self.branch[element.name] = size + len(element.coils)
                return len(element.coils) + 2
            case _:
                return 0

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
                    self._columns.append((row, -1, -element.henries))
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
            self._columns.append((magnetising, -1, -element.magnetising))

    def _leak(self) -> None:
        """Define nodes without a dc path, so that no matrix is singular.

        A node between capacitors only takes the voltage their charging from zero gives it: its
        leaks are in proportion to the capacitances.  A node that a diode defines leaks to ground
        too little to matter, and one that a tube defines less still.
        """
        circuit, index = self.circuit, self.index
        clusters = Clusters()
        clusters.find(circuit.ground)
        touched: dict[str, float] = {}
        for element in circuit.elements:
            for node in terminals(element):
                clusters.find(node)
        for a, b in dc_paths(circuit.elements):
            clusters.join(a, b)
        find = clusters.find
        ground = find(circuit.ground)
        groups = {find(g[0]): g[0] for g in clusters.groups() if find(g[0]) != ground}
        if not groups:
            return
        for element in circuit.elements:
            match element:
                case Triode() | Pentode():
                    for node in terminals(element):
                        touched.setdefault(find(node), GRID_LEAK)
                case SiliconDiode() | TubeDiode() | ZenerDiode() | CurrentLoad():
                    for node in terminals(element):
                        touched[find(node)] = LEAK
                case _:
                    pass
        joined = Clusters()
        capacitors = [
            (find(e.a), find(e.b), e)
            for e in circuit.elements
            if isinstance(e, Capacitor) and e.farads > 0.0 and find(e.a) != find(e.b)
        ]
        loose = {g for g in groups if g not in touched}
        ties = [c for c in capacitors if c[0] in loose or c[1] in loose]
        for a, b, _ in ties:
            joined.join(a, b)
        largest: dict[str, float] = {}
        for a, _, capacitor in ties:
            root = joined.find(a)
            largest[root] = max(largest.get(root, 0.0), capacitor.farads)
        for a, _, capacitor in ties:
            share = capacitor.farads / largest[joined.find(a)]
            self._conductance(index[capacitor.a], index[capacitor.b], LEAK * share)
        tied = {joined.find(ground)}
        for group, node in groups.items():
            if group in touched:
                self._conductance(index[node], 0, touched[group])
                tied.add(joined.find(group))
        for group, node in groups.items():
            if joined.find(group) not in tied:
                tied.add(joined.find(group))
                self._conductance(index[node], 0, LEAK)

    def _rows(self, pairs: list[tuple[int, int]]) -> Array:
        rows = np.zeros((len(pairs), self.size + 1))
        for k, (a, b) in enumerate(pairs):
            rows[k, a] += 1.0
            rows[k, b] -= 1.0
        return rows[:, 1:]
