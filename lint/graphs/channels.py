"""Channels of a design, and whether they are the same circuit with the same values.

A channel is what is nearer to its input than to any other; what is as near to two of them, a
supply or a bias, is common, and is not passed.  Two channels are compared as graphs, labelled with
what their parts are (isomorphism after L. P. Cordella, P. Foggia, C. Sansone, M. Vento, IEEE
Trans. Pattern Anal. Mach. Intell. 26, 1367, 2004); where they are not alike, the parts are paired
off by walking both from their inputs, and what is left without a partner is named.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import networkx as nx
from networkx.algorithms.isomorphism import GraphMatcher

from coldcheck.lint.design import METAL, Design, PartUse
from coldcheck.lint.graphs.schematic import Body, Schematic, Section, electrode_pins
from coldcheck.lint.model import NothingToJudge
from coldcheck.schemas.part import Part
from coldcheck.schemas.parts import (
    Capacitor,
    Choke,
    Connector,
    OutputTransformer,
    Potentiometer,
    Resistor,
    Tube,
)

Node = tuple[str, str]
OUTSIDE = frozenset({Body.HEATER, Body.SOURCE, Body.SWITCH})
"""Bodies that a channel is not followed through."""
OWN = "a net"
"""Label of a net that is a channel's own."""
TRIED = 300
"""Most ways of laying one channel on the other that are tried for the one that differs least."""
UNSAID = frozenset({*Part.model_fields, "setting", "matched"})
"""What two parts may differ in: notes, sizes, where figures come from, how a preset is left."""


class Channel(NamedTuple):
    """One channel: its input, and its part of the schematic graph with what it shares."""

    input: PartUse
    graph: nx.Graph[Node]
    """Nodes are nets and sections, with a "label" and, of a section, its "part"."""


class Difference(NamedTuple):
    """Where one channel is not as another: two parts unlike, or one without a partner."""

    part: PartUse
    partner: PartUse | None
    values: tuple[str, ...]
    """Names of the values that differ; none where there is no partner."""


class Channels:
    """Every channel of a design, held against the first."""

    def __init__(self, design: Design, found: tuple[Channel, ...]) -> None:
        self._design = design
        self.all = found

    def differences(self) -> Iterator[tuple[Channel, Channel, tuple[Difference, ...]]]:
        """The first channel, another, and in what they differ."""
        first, *others = self.all
        for other in others:
            yield first, other, differences(self._design, first, other)


def channels(design: Design, schematic: Schematic) -> tuple[Channel, ...]:
    """Every channel, in order of its input; none where there is but one input."""
    inputs = [
        (part, net)
        for part in design.of(Connector)
        if part.spec.role == "input"
        for net in [_live(part, schematic)]
        if net is not None
    ]
    if len(inputs) < 2:
        return ()
    graph = _signal_graph(design, schematic)
    owner = _owners(graph, [("net", net) for _part, net in inputs])
    return tuple(
        Channel(part, _labelled(design, graph, owner, place))
        for place, (part, _net) in enumerate(inputs)
    )


def differences(design: Design, one: Channel, other: Channel) -> tuple[Difference, ...]:
    """Every part in which a channel differs from another, in order of reference."""

    def alike(a: Mapping[str, Any], b: Mapping[str, Any]) -> bool:
        return bool(a["label"] == b["label"])

    def equal(a: Mapping[str, Any], b: Mapping[str, Any]) -> bool:
        return alike(a, b) and not _unlike(design, a.get("part"), b.get("part"))

    def same(a: Mapping[str, Any], b: Mapping[str, Any]) -> bool:
        return bool(a["terminals"] == b["terminals"])

    walked, partner = _by_walking(design, one, other)
    if not walked and _laid_on(one, other, partner):
        return ()  # as good as always, and found at a fraction of the expense
    if GraphMatcher(one.graph, other.graph, equal, same).is_isomorphic():
        return ()
    matcher = GraphMatcher(one.graph, other.graph, alike, same)
    ways = [
        _of_mapping(design, one, other, way)
        for way in itertools.islice(matcher.isomorphisms_iter(), TRIED)
    ]
    found = min(ways, key=len) if ways else walked
    once = {(d.part.ref, d.values): d for d in found}  # a transformer is several sections
    return tuple(once[key] for key in sorted(once))


def _live(part: PartUse, schematic: Schematic) -> str | None:
    still = schematic.ground() | {METAL}
    return next((net for net in part.ends.values() if net not in still), None)


def _signal_graph(design: Design, schematic: Schematic) -> nx.Graph[Node]:
    """Nets and sections a signal may pass, without ground; windings of one core are joined."""
    graph: nx.Graph[Node] = nx.Graph()
    gone = schematic.ground() | {METAL}
    mains = {part.ref for part in design.parts.values() if part.spec.kind == "mains transformer"}
    for section in schematic.sections.values():
        if section.body in OUTSIDE or section.part in mains:
            continue
        for net in section.nets:
            if net not in gone:
                graph.add_edge(("part", section.ref), ("net", net))
    for part in design.of(OutputTransformer):
        for a, b in itertools.pairwise(schematic.of(part.ref)):
            graph.add_edge(("part", a.ref), ("part", b.ref))
    for node in graph:
        if node[0] == "part":
            graph.nodes[node]["section"] = schematic.sections[node[1]]
    return graph


def _owners(graph: nx.Graph[Node], starts: list[Node]) -> dict[Node, int | None]:
    """Which start each node is nearest to; None for those as near to two, which are not passed."""
    owner: dict[Node, int | None] = {start: k for k, start in enumerate(starts)}
    edge: dict[Node, int] = {start: k for k, start in enumerate(starts) if start in graph}
    while edge:
        claims: dict[Node, set[int]] = {}
        for node, k in edge.items():
            for nearby in graph[node]:
                if nearby not in owner:
                    claims.setdefault(nearby, set()).add(k)
        edge = {}
        for node, by in claims.items():
            owner[node] = None
            if len(by) == 1:
                owner[node] = edge[node] = by.pop()
    return owner


def _labelled(
    design: Design, graph: nx.Graph[Node], owner: Mapping[Node, int | None], place: int
) -> nx.Graph[Node]:
    """A channel's nodes with their labels; common nets and ground count by their names."""
    found: nx.Graph[Node] = nx.Graph()
    for node in graph:
        if owner.get(node) != place or node[0] != "part":
            continue
        section: Section = graph.nodes[node]["section"]
        part = design.parts[section.part]
        found.add_node(node, label=_label(part, section), part=part)
        for net in section.nets:
            mine = owner.get(("net", net)) == place
            label = OWN if mine else f"the net {net}"
            found.add_node(("net", net), label=label)
            found.add_edge(node, ("net", net), terminals=_terminals(part, section, net))
    for a, b in graph.edges:
        if a in found and b in found and a[0] == b[0] == "part":
            found.add_edge(a, b, terminals="core")
    return found


def _label(part: PartUse, section: Section) -> str:
    words = [part.spec.kind, "" if isinstance(part.spec, Tube) else section.name]
    if part.tube is not None and section.name.startswith("section"):
        number = int(section.name.split()[-1])
        words.append(next(s.kind for s in part.tube.sections if s.number == number))
    return " ".join(words)


def _terminals(part: PartUse, section: Section, net: str) -> str:
    """By which terminals a section is on a net; the two of a resistor are as one."""
    spec = part.spec
    if isinstance(spec, Resistor | Choke) or (
        isinstance(spec, Capacitor) and spec.terminals() == ("1", "2")
    ):
        return ""
    if part.tube is not None:
        number = int(section.name.split()[-1]) if section.name.startswith("section") else 1
        names = next(s.electrodes for s in part.tube.sections if s.number == number)
        pins = {name: electrode_pins(part, name, number) for name in names}
        on = [n for n, held in pins.items() if any(part.net(str(pin)) == net for pin in held)]
        return " ".join(sorted(on))
    return " ".join(sorted(t for t, here in part.ends.items() if here == net))


def _unlike(design: Design, one: PartUse | None, other: PartUse | None) -> tuple[str, ...]:
    """Names of the values in which two parts differ."""
    if one is None or other is None or one.ref == other.ref:
        return ()
    a, b = one.spec, other.spec
    if type(a) is not type(b):
        return ("kind",)
    unsaid = UNSAID if isinstance(a, Potentiometer | Tube) else frozenset(Part.model_fields)
    names = [name for name in type(a).model_fields if name not in unsaid]
    return tuple(name for name in names if getattr(a, name) != getattr(b, name))


def _of_mapping(
    design: Design, one: Channel, other: Channel, way: Mapping[Node, Node]
) -> list[Difference]:
    """Parts that differ when one channel is laid on the other."""
    found = {}
    for a, b in way.items():
        if a[0] == "part":
            part, partner = one.graph.nodes[a]["part"], other.graph.nodes[b]["part"]
            if values := _unlike(design, part, partner):
                found[part.ref] = Difference(part, partner, values)
    return list(found.values())


def _by_walking(
    design: Design, one: Channel, other: Channel
) -> tuple[list[Difference], dict[Node, Node]]:
    """Pair the sections off from the inputs on; what differs, and what finds no partner."""
    partner: dict[Node, Node] = {}
    found: list[Difference] = []
    starts = (_start(one), _start(other))
    edge = [starts]
    partner[starts[0]] = starts[1]
    while edge:
        a, b = edge.pop(0)
        here = [n for n in one.graph[a] if n not in partner]
        there = [n for n in other.graph[b] if n not in partner.values()]
        for node in here:
            fits = [
                n
                for n in there
                if other.graph.nodes[n]["label"] == one.graph.nodes[node]["label"]
                and other.graph.edges[b, n]["terminals"] == one.graph.edges[a, node]["terminals"]
            ]
            if not fits:
                continue
            best = min(fits, key=lambda n: _apart(design, one, other, node, n))
            there.remove(best)
            partner[node] = best
            if node[0] == "part" or one.graph.nodes[node]["label"] == OWN:
                edge.append((node, best))  # not on through what both share
            if node[0] == "part":
                mine, its = one.graph.nodes[node]["part"], other.graph.nodes[best]["part"]
                if values := _unlike(design, mine, its):
                    found.append(Difference(mine, its, values))
    found += list(_alone(one, set(partner)))
    found += list(_alone(other, set(partner.values())))
    return found, partner


def _laid_on(one: Channel, other: Channel, partner: Mapping[Node, Node]) -> bool:
    """Whether such partners make one channel's graph the other's, joint for joint."""
    a, b = one.graph, other.graph
    if len(partner) != len(a) or len(a) != len(b) or a.size() != b.size():
        return False
    joints = ((a.edges[edge], b.get_edge_data(*(partner[end] for end in edge))) for edge in a.edges)
    return all(its is not None and mine["terminals"] == its["terminals"] for mine, its in joints)


def _apart(design: Design, one: Channel, other: Channel, a: Node, b: Node) -> tuple[bool, int]:
    """How unlike two nodes are: first in value, then in how many neighbours they have."""
    values = _unlike(design, one.graph.nodes[a].get("part"), other.graph.nodes[b].get("part"))
    return bool(values), abs(one.graph.degree[a] - other.graph.degree[b])


def _start(channel: Channel) -> Node:
    nets = [("net", net) for net in channel.input.ends.values()]
    graph = channel.graph
    return next(net for net in nets if net in graph and graph.nodes[net]["label"] == OWN)


def _alone(channel: Channel, paired: set[Node]) -> Iterator[Difference]:
    refs = {n: channel.graph.nodes[n]["part"] for n in channel.graph if n[0] == "part"}
    with_one = {part.ref for node, part in refs.items() if node in paired}
    for part in {p.ref: p for p in refs.values()}.values():
        if part.ref not in with_one:
            yield Difference(part, None, ())


def make(design: Design, schematic: Schematic) -> Channels:
    """Raises NothingToJudge where there is one channel, or none."""
    found = channels(design, schematic)
    if len(found) < 2:
        raise NothingToJudge("it has one channel")
    return Channels(design, found)
