"""The schematic as a bipartite graph: nets on one side, sections of parts on the other.

A part is as many nodes as it has conducting bodies: a tube one per section and its heater, a
transformer one per winding, a switch one per position and pair it joins.  An edge is a terminal.
"""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import networkx as nx

from coldcheck.lint.design import METAL, Design, PartUse
from coldcheck.lint.model import Missing
from coldcheck.schemas.parts import (
    AnyPart,
    Bridge,
    Capacitor,
    ChassisBond,
    Choke,
    Diode,
    Fuse,
    Lamp,
    Led,
    MainsTransformer,
    OutputTransformer,
    Potentiometer,
    Resistor,
    Switch,
    Transistor,
    Tube,
    VoltageSource,
    Zener,
)


class Body(enum.Enum):
    """How a section of a part carries current between its nets."""

    METAL = "metal"
    """A bond, a closed fuse or switch: no resistance to speak of."""
    FUSE = "fuse"
    SWITCH = "switch"
    RESISTOR = "resistor"
    COIL = "coil"
    CAPACITOR = "capacitor"
    DIODE = "diode"
    HEATER = "heater"
    TUBE = "tube"
    SOURCE = "source"
    BLACK_BOX = "black box"


DC = frozenset(
    {Body.METAL, Body.FUSE, Body.SWITCH, Body.RESISTOR, Body.COIL, Body.HEATER, Body.SOURCE}
)
"""Bodies that pass dc both ways whatever the tubes do."""
FIXED = frozenset({Body.METAL, Body.RESISTOR, Body.COIL, Body.HEATER})
"""As DC, without what opens: fuses, switches, and without sources."""


@dataclass(frozen=True, slots=True)
class Section:
    """One conducting body of a part; ``name`` reads "T1 ht" or "V1 section 2"."""

    ref: str
    part: str
    name: str
    body: Body
    nets: tuple[str, ...]
    position: str = ""
    """For a switch: the position in which it joins its nets."""


NetNode = tuple[str, str]


class Schematic:
    """The schematic graph with the walks a review needs."""

    def __init__(self, design: Design) -> None:
        self.design = design
        self.sections: dict[str, Section] = {}
        self.graph: nx.Graph[NetNode] = nx.Graph()
        for net in design.nets:
            self.graph.add_node(("net", net))
        for part in design.parts.values():
            for section in sections(part):
                self.sections[section.ref] = section
                self.graph.add_node(("part", section.ref))
                for net in section.nets:
                    self.graph.add_edge(("net", net), ("part", section.ref))

    def reach(self, net: str, through: Callable[[Section], bool]) -> frozenset[str]:
        """Nets that can be reached from ``net`` by sections ``through`` admits."""
        if ("net", net) not in self.graph:
            return frozenset()
        seen, edge = {net}, [net]
        while edge:
            here = edge.pop()
            for _kind, ref in self.graph[("net", here)]:
                section = self.sections[ref]
                if through(section):
                    for other in section.nets:
                        if other not in seen:
                            seen.add(other)
                            edge.append(other)
        return frozenset(seen)

    def path(
        self, start: str, goal: str, through: Callable[[Section], bool]
    ) -> tuple[str | Section, ...]:
        """The shortest way from net to net: net, section, net, ...; empty when there is none."""
        admitted = [
            node for node in self.graph if node[0] == "net" or through(self.sections[node[1]])
        ]
        view = self.graph.subgraph(admitted)
        a, b = ("net", start), ("net", goal)
        if a not in view or b not in view or not nx.has_path(view, a, b):
            return ()
        steps = min(nx.all_shortest_paths(view, a, b))
        return tuple(name if kind == "net" else self.sections[name] for kind, name in steps)

    def at(self, net: str) -> tuple[Section, ...]:
        """Sections with a terminal on a net, in order of name."""
        node = ("net", net)
        if node not in self.graph:
            return ()
        return tuple(self.sections[ref] for ref in sorted(ref for _kind, ref in self.graph[node]))

    def of(self, part: str) -> tuple[Section, ...]:
        """The sections of a part."""
        return tuple(s for s in self.sections.values() if s.part == part)

    def same_potential(self) -> dict[str, str]:
        """Net -> the first name of the nets it is one with through chassis bonds."""
        found: dict[str, str] = {}
        for net in self.design.nets:
            joined = self.reach(net, lambda section: section.body is Body.METAL)
            found[net] = min(joined)
        return found


def sections(part: PartUse) -> Iterator[Section]:
    """The conducting bodies of a part whose terminals are on nets."""
    spec = part.spec
    if isinstance(spec, Tube):
        yield from _tube_sections(part)
    elif isinstance(spec, MainsTransformer | OutputTransformer):
        groups: dict[str, list[str]] = {}
        for terminal in spec.terminals():
            net = part.net(terminal)
            if net is not None and "." in terminal:
                groups.setdefault(terminal.split(".")[0], []).append(net)
        for winding, nets in groups.items():
            yield Section(f"{part.ref} {winding}", part.ref, winding, Body.COIL, _unique(nets))
    elif isinstance(spec, Switch):
        for position, pairs in spec.positions.items():
            for pair in pairs:
                ends = [part.net(end) for end in pair.split("-")]
                if None not in ends:
                    nets = _unique([net for net in ends if net is not None])
                    ref = f"{part.ref} {position} {pair}"
                    yield Section(ref, part.ref, pair, Body.SWITCH, nets, position)
    elif isinstance(spec, ChassisBond):
        net = part.net("lug")
        if net is not None:
            yield Section(part.ref, part.ref, "bond", Body.METAL, _unique([net, METAL]))
    elif isinstance(spec, Bridge):
        for ac in ("ac1", "ac2"):
            for pole in ("+", "-"):
                nets = [n for n in (part.net(ac), part.net(pole)) if n is not None]
                if len(nets) == 2:
                    name = f"{ac}{pole}"
                    yield Section(f"{part.ref} {name}", part.ref, name, Body.DIODE, _unique(nets))
    else:
        body = _BODIES.get(type(spec))
        nets = [net for net in (part.net(t) for t in spec.terminals()) if net is not None]
        if body is not None and nets:
            yield Section(part.ref, part.ref, "", body, _unique(nets))


_BODIES: dict[type[AnyPart], Body] = {
    Resistor: Body.RESISTOR,
    Potentiometer: Body.RESISTOR,
    Lamp: Body.RESISTOR,
    Capacitor: Body.CAPACITOR,
    Choke: Body.COIL,
    Fuse: Body.FUSE,
    Diode: Body.DIODE,
    Led: Body.DIODE,
    Zener: Body.DIODE,
    VoltageSource: Body.SOURCE,
    Transistor: Body.BLACK_BOX,
}


def _tube_sections(part: PartUse) -> Iterator[Section]:
    kind = part.tube
    if kind is None:
        nets = tuple(dict.fromkeys(part.ends.values()))
        yield Section(part.ref, part.ref, "", Body.TUBE, nets)
        return
    for section in kind.sections:
        pins = [str(pin) for _electrode, pin in sorted(section.electrodes.items())]
        nets = _unique([part.ends[pin] for pin in pins if pin in part.ends])
        name = "" if len(kind.sections) == 1 else f"section {section.number}"
        if nets:
            yield Section(f"{part.ref} {name}".strip(), part.ref, name, Body.TUBE, nets)
    heated = [
        part.ends[str(pin)]
        for pin, electrode in sorted(kind.pins.items())
        if electrode in HEATED and str(pin) in part.ends
    ]
    if heated:
        yield Section(f"{part.ref} heater", part.ref, "heater", Body.HEATER, _unique(heated))


HEATED = ("heater", "heater_tap", "filament", "heater_cathode")
"""Electrodes that heater current flows through."""


def _unique(nets: list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(nets))


def make(design: Design) -> Schematic:
    """The schematic graph; raises Missing when the document has no schematic."""
    if not design.nets:
        raise Missing("the schematic", ("schematic",))
    return Schematic(design)
