"""Nodes that no direct-current path ties to ground, found on the graph and so named exactly."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from operator import attrgetter

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Circuit,
    Element,
    GlowTube,
    Inductor,
    Mosfet,
    Pentode,
    Regulator,
    Resistor,
    SiliconDiode,
    Source,
    Transformer,
    Triode,
    TubeDiode,
    ZenerDiode,
)


class Clusters:
    """Disjoint sets of nodes (union-find with path halving)."""

    def __init__(self) -> None:
        self._parent: dict[str, str] = {}

    def find(self, node: str) -> str:
        parent = self._parent
        above = parent.get(node)
        if above is None:
            parent[node] = node
            return node
        while above != node:
            parent[node] = further = parent[above]
            node, above = further, parent[further]
        return node

    def join(self, a: str, b: str) -> bool:
        """Put ``a`` and ``b`` into one set; False when they were in one already."""
        a, b = self.find(a), self.find(b)
        self._parent[a] = b
        return a != b

    def groups(self) -> list[list[str]]:
        """The sets, each in order of first mention, ordered by their first node."""
        found: dict[str, list[str]] = {}
        for node in list(self._parent):
            found.setdefault(self.find(node), []).append(node)
        return list(found.values())


_TWO_ENDS = attrgetter("a", "b")
_DIODE = attrgetter("anode", "cathode")
_TERMINALS = {
    Triode: attrgetter("plate", "grid", "cathode"),
    Pentode: attrgetter("plate", "screen", "grid", "cathode"),
    SiliconDiode: _DIODE,
    TubeDiode: _DIODE,
    ZenerDiode: _DIODE,
    GlowTube: _DIODE,
    Bipolar: attrgetter("collector", "base", "emitter"),
    Mosfet: attrgetter("drain", "gate", "source"),
    Regulator: attrgetter("input", "output", "common"),
}


def terminals(element: Element) -> tuple[str, ...]:
    """The nodes an element touches; a transformer's coil by coil."""
    if isinstance(element, Transformer):
        return tuple(node for coil in element.coils for node in (coil.a, coil.b))
    found: tuple[str, ...] = _TERMINALS.get(type(element), _TWO_ENDS)(element)
    return found


def dc_paths(elements: Iterable[Element]) -> Iterator[tuple[str, str]]:
    """Pairs of nodes joined for direct current by wire, winding or source."""
    for element in elements:
        match element:
            case Resistor() | Inductor() | Source():
                yield element.a, element.b
            case Transformer(coils=coils):
                for coil in coils:
                    yield coil.a, coil.b
            case _:
                pass


def floating_nodes(
    circuit: Circuit, *, through_devices: bool = False
) -> tuple[tuple[str, ...], ...]:
    """Groups of nodes without a direct-current path to ground.

    A path runs through resistors, inductors, transformer coils and voltage sources.  Capacitors,
    current loads, tubes, diodes and transistors are none: what defines a node only through a tube
    or diode is defined by nothing when that tube is cold or that diode blocks.  With
    ``through_devices``, a tube from cathode to plate or screen, a diode from anode to cathode, a
    transistor and a regulator count as paths, grids and insulated gates still not: what then
    remains is floating in every state.
    """
    clusters = Clusters()
    clusters.find(circuit.ground)
    for element in circuit.elements:
        for node in terminals(element):
            clusters.find(node)
    for a, b in dc_paths(circuit.elements):
        clusters.join(a, b)
    if through_devices:
        for element in circuit.elements:
            match element:
                case Triode():
                    clusters.join(element.plate, element.cathode)
                case Pentode():
                    clusters.join(element.plate, element.cathode)
                    clusters.join(element.screen, element.cathode)
                case SiliconDiode() | TubeDiode() | ZenerDiode() | GlowTube():
                    clusters.join(element.anode, element.cathode)
                case Bipolar():
                    clusters.join(element.collector, element.emitter)
                    clusters.join(element.base, element.emitter)
                case Mosfet():
                    clusters.join(element.drain, element.source)
                case Regulator():
                    clusters.join(element.input, element.output)
                    clusters.join(element.output, element.common)
                case _:
                    pass
    ground = clusters.find(circuit.ground)
    return tuple(tuple(g) for g in clusters.groups() if clusters.find(g[0]) != ground)
