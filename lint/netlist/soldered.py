"""A design with its ground as it is soldered: every tie point a node, every conductor a resistor.

The schematic takes ground for one node.  Here each net of it is split: what leads join stays one
node, named after one of its tie points, and wires, spans of a bus, bonds and mounting feet lie
between.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

from coldcheck.lint.design import METAL, Design, PartUse, natural
from coldcheck.lint.graphs.wiring import Joint, Link, Wiring
from coldcheck.lint.model import Missing
from coldcheck.lint.netlist.elements import CONTACT_OHMS
from coldcheck.lint.physics.circuit import Resistor
from coldcheck.schemas.parts import ChassisBond


class Soldered(NamedTuple):
    """``design`` with ground split; ``conductors`` belong to its circuit."""

    design: Design
    conductors: tuple[Resistor, ...]
    """Named as their links are; bonds are parts of the design, and so not among them."""
    links: Mapping[str, Link]
    """Every conductor by the name of its element, bonds included."""
    node: Mapping[str, str]
    """Tie point to node, of those on ground."""

    def nets(self, part: PartUse, net: str) -> Iterator[str]:
        """The nodes at which a part is on a net of the schematic, in order of terminals."""
        for terminal, here in part.ends.items():
            if here == net:
                yield self.node.get(f"{part.ref}.{terminal}", net)


def soldered(
    design: Design,
    wiring: Wiring,
    ground: frozenset[str],
    ohms: Callable[[Link], float],
) -> Soldered:
    """Split the nets ``ground``; ``ohms``: resistance of a wire, or of a span of a bus.

    Raises Missing where a part's terminal on ground is not soldered to the rest of it.
    """
    pieces = _pieces(design, wiring, ground)
    node = _nodes(wiring, pieces)
    links: dict[str, Link] = {}
    conductors = []
    for link in wiring.links:
        a, b = node.get(link.a), node.get(link.b)
        if a is None or b is None or a == b:
            continue
        part = design.parts.get(link.subject.name)
        if part is not None and isinstance(part.spec, ChassisBond) and "lug" in part.ends:
            links[part.ref] = link
            continue
        copper = link.joint in (Joint.WIRE, Joint.BUS)
        links[link.name] = link
        conductors.append(Resistor(link.name, a, b, ohms(link) if copper else CONTACT_OHMS))
    return Soldered(_split(design, ground, node), tuple(conductors), links, node)


def _pieces(design: Design, wiring: Wiring, ground: frozenset[str]) -> set[str]:
    """Every tie point that is one conductor with ground."""
    groups = {point: group for group in wiring.joined() for point in group}
    found: set[str] = set()
    for net in (net for net in design.nets if net in ground):  # never in order of their names
        ends = [(ref, METAL if t == METAL else f"{ref}.{t}") for ref, t in design.nets[net]]
        known = [groups.get(end) for _ref, end in ends]
        most = max((g for g in known if g is not None), key=len, default=None)
        for (ref, end), group in zip(ends, known, strict=True):
            if group is None or group is not most:
                part = design.parts[ref]
                raise Missing(f"how {end} is soldered to {net}", ("wires",), part.subject)
        found |= most or frozenset()
    return found


def _nodes(wiring: Wiring, points: set[str]) -> dict[str, str]:
    """Tie points to nodes: leads and covers join without resistance."""
    found: dict[str, str] = {}
    for point in sorted(points, key=lambda p: (p != METAL, natural(p.partition(".")[0]), p)):
        if point not in found:
            joined = wiring.reach(point, lambda link: link.joint in (Joint.LEAD, Joint.COVER))
            tie = point if point == METAL else _tie(wiring, joined)
            found |= dict.fromkeys(joined, tie)
    return found


def _tie(wiring: Wiring, joined: Mapping[str, object]) -> str:
    """The point the leads end on: what most of them share, else the only one."""
    return max(joined, key=lambda point: (wiring.graph.degree(point), natural(point)))


def _split(design: Design, ground: frozenset[str], node: Mapping[str, str]) -> Design:
    parts, nets = {}, {net: ends for net, ends in design.nets.items() if net not in ground}
    split: dict[str, list[tuple[str, str]]] = {}
    for ref, part in design.parts.items():
        ends = dict(part.ends)
        for terminal, net in part.ends.items():
            if net in ground:
                ends[terminal] = node[f"{ref}.{terminal}"]
                split.setdefault(ends[terminal], []).append((ref, terminal))
        parts[ref] = replace(part, ends=ends)
    if METAL in ground:
        bonds = [end for end in design.nets[METAL] if end[1] == METAL]
        split[METAL] = [*bonds, *split.get(METAL, ())]
    nets |= {name: tuple(ends) for name, ends in split.items()}
    return design._replace(parts=parts, nets=nets)
