"""What is soldered: tie points, and the conductors that join them.

Nodes are tie points ("V1.5", "TB2.1") and pieces of metal ("chassis", "chassis bottom").  Edges
are spans of wire, leads soldered to a tie point, and the links hardware makes by itself: mounting
lugs, connector shells, bare cans, potentiometer bodies, bolted frames.
"""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterable
from typing import NamedTuple

import networkx as nx

from coldcheck.lint.design import METAL, Design, WireUse, tie_points
from coldcheck.lint.model import DocumentPath, Missing, Subject
from coldcheck.schemas.parts import (
    Capacitor,
    ChassisBond,
    Connector,
    GroundBus,
    Inlet,
    Potentiometer,
    Switch,
    TerminalStrip,
    Wound,
)


class Joint(enum.Enum):
    """What makes a link between two tie points."""

    WIRE = "wire"
    LEAD = "lead"
    BUS = "bus"
    MOUNTING = "mounting"
    """Metal against metal under a screw, nut or rivet that holds the part."""
    BOND = "bond"
    """A lug fitted in order to make the connection."""
    COVER = "cover"


class Link(NamedTuple):
    """A conductor between two tie points; ``name`` is unique, "W3" or "W15 span 2"."""

    name: str
    a: str
    b: str
    joint: Joint
    subject: Subject
    wire: WireUse | None = None

    @property
    def reads(self) -> str:
        """As a builder would say it."""
        if self.joint is Joint.WIRE:
            return f"wire {self.name} ({self.a} to {self.b})"
        if self.joint is Joint.LEAD:
            return f"lead of {self.a} on {self.b}"
        if self.joint is Joint.BUS:
            return f"bus {self.a} to {self.b}"
        if self.joint is Joint.COVER:
            return f"{self.b} screwed to {self.a}"
        if self.joint is Joint.BOND:
            return f"bond {self.a} to the {self.b}"
        return f"{self.a} touching the {self.b}"


class ExposedMetal(NamedTuple):
    """A piece of metal a person can touch."""

    node: str
    reads: str
    subject: Subject


class Wiring:
    """The wiring graph and what hardware adds to it."""

    def __init__(self, design: Design) -> None:
        self.design = design
        self.links: tuple[Link, ...] = tuple(_links(design))
        self.exposed: tuple[ExposedMetal, ...] = tuple(_exposed(design))
        self.graph: nx.MultiGraph[str] = nx.MultiGraph()
        self.graph.add_node(METAL)
        for part in design.parts.values():
            for point in tie_points(part.spec, part.tube):
                self.graph.add_node(f"{part.ref}.{point}")
        for metal in self.exposed:
            self.graph.add_node(metal.node)
        for link in self.links:
            self.graph.add_edge(link.a, link.b, link.name, link=link)

    def reach(self, start: str, through: Callable[[Link], bool]) -> dict[str, tuple[Link, ...]]:
        """Tie points reached from ``start`` by admitted links, each with the way there."""
        found: dict[str, tuple[Link, ...]] = {start: ()}
        edge = [start]
        while edge:
            following: list[str] = []
            for here in edge:
                for other, keyed in sorted(self.graph[here].items()):
                    for name in sorted(keyed):
                        link: Link = keyed[name]["link"]
                        if other not in found and through(link):
                            found[other] = (*found[here], link)
                            following.append(other)
            edge = following
        return found

    def joined(self) -> list[frozenset[str]]:
        """Groups of tie points that are one conductor, metal included."""
        groups = [frozenset(group) for group in nx.connected_components(self.graph)]
        return sorted(groups, key=min)

    def group_of(self, point: str) -> frozenset[str]:
        return frozenset(nx.node_connected_component(self.graph, point))

    def loops(self, points: Iterable[str]) -> list[tuple[Link, ...]]:
        """A smallest set of closed loops among ``points``: each is its links in order round."""
        # numbers for names, in a fixed order: sets of names come in another with every run
        number = {point: at for at, point in enumerate(sorted(points))}
        plain: nx.Graph[int] = nx.Graph()
        by_number: dict[int, Link] = {}
        for link in sorted(self.links, key=lambda link: link.name):
            if link.a != link.b and link.a in number and link.b in number:
                # a node in the middle of every link keeps parallel wires apart
                middle = len(number) + len(by_number)
                by_number[middle] = link
                plain.add_edge(number[link.a], middle)
                plain.add_edge(middle, number[link.b])
        rounds = []
        for cycle in nx.minimum_cycle_basis(nx.k_core(plain, 2)):  # dead ends close no loop
            ring = _in_order(plain.subgraph(cycle))
            rounds.append(tuple(by_number[node] for node in ring if node in by_number))
        return sorted(rounds, key=lambda links: (len(links), [link.name for link in links]))


def _in_order(ring: nx.Graph[int]) -> list[int]:
    """Nodes of a ring in the order they are met, from the smallest on."""
    start = min(ring)
    order, here, before = [start], min(ring[start]), start
    while here != start:
        order.append(here)
        here, before = next(n for n in sorted(ring[here]) if n != before), here
    return order


def metallic(design: Design) -> bool:
    """Whether the chassis conducts; taken for granted where the document does not describe it."""
    return design.chassis is None or design.chassis.material not in ("wood", "plastic")


def _links(design: Design) -> Iterable[Link]:
    for part in design.parts.values():
        spec, ref, subject = part.spec, part.ref, part.subject
        for terminal, point in sorted(part.leads.items()):
            here = f"{ref}.{terminal}"
            if here != point:
                yield Link(f"{here} lead", here, point, Joint.LEAD, subject)
        if isinstance(spec, GroundBus):
            for at in range(1, spec.points):
                name = f"{ref} span {at}"
                yield Link(name, f"{ref}.{at}", f"{ref}.{at + 1}", Joint.BUS, subject)
        for point, metal, joint in _touching(spec, ref):
            if metal != METAL or metallic(design):
                yield Link(f"{point} {joint.value}", point, metal, joint, subject)
    if design.chassis is not None:
        for name, cover in sorted(design.chassis.covers.items()):
            if cover.contact == "screws on bare metal":
                path: DocumentPath = ("chassis", "covers", name)
                about = Subject("cover", f"{name} cover", path)
                yield Link(f"cover {name}", METAL, f"{METAL} {name}", Joint.COVER, about)
    for wire in design.wires.values():
        spans = list(zip(wire.run, wire.run[1:], strict=False))
        for at, (a, b) in enumerate(spans, start=1):
            name = wire.ref if len(spans) == 1 else f"{wire.ref} span {at}"
            yield Link(name, a, b, Joint.WIRE, wire.subject, wire)


def _touching(spec: object, ref: str) -> Iterable[tuple[str, str, Joint]]:
    """Points of a part that its own mounting joins to the metal, unless it is insulated."""
    if isinstance(spec, ChassisBond):
        metal = METAL if spec.piece == METAL else f"{METAL} {spec.piece}"
        yield f"{ref}.lug", metal, Joint.BOND
    elif isinstance(spec, TerminalStrip) and not spec.insulated:
        for lug in spec.mounting:
            yield f"{ref}.{lug}", METAL, Joint.MOUNTING
    elif isinstance(spec, Connector) and spec.shell is not None and not spec.insulated:
        yield f"{ref}.{spec.shell}", METAL, Joint.MOUNTING
    elif isinstance(spec, Potentiometer | Switch) and not spec.insulated:
        yield f"{ref}.body", METAL, Joint.MOUNTING
    elif isinstance(spec, Capacitor) and spec.case == "bare can":
        yield f"{ref}.{spec.terminals()[1]}", METAL, Joint.MOUNTING
    elif isinstance(spec, Wound):
        yield f"{ref}.frame", METAL, Joint.MOUNTING
    elif isinstance(spec, Inlet) and spec.shell == "metal":
        yield f"{ref}.shell", METAL, Joint.MOUNTING


def _exposed(design: Design) -> Iterable[ExposedMetal]:
    """Metal a person can touch: the chassis, its covers, frames, shells, shafts."""
    about = Subject("chassis", "chassis", ("chassis",))
    if metallic(design):
        yield ExposedMetal(METAL, "the chassis", about)
    if design.chassis is not None:
        for name in sorted(design.chassis.covers):
            path: DocumentPath = ("chassis", "covers", name)
            yield ExposedMetal(
                f"{METAL} {name}", f"the {name} cover", Subject("cover", f"{name} cover", path)
            )
    for part in design.parts.values():
        spec = part.spec
        if isinstance(spec, Wound):
            yield ExposedMetal(f"{part.ref}.frame", f"the frame of {part.ref}", part.subject)
        elif isinstance(spec, Inlet) and spec.shell == "metal":
            yield ExposedMetal(f"{part.ref}.shell", f"the shell of {part.ref}", part.subject)
        elif isinstance(spec, Connector) and spec.shell is not None and not spec.insulated:
            yield ExposedMetal(f"{part.ref}.{spec.shell}", f"the shell of {part.ref}", part.subject)
        elif isinstance(spec, Switch | Potentiometer) and not spec.insulated:
            yield ExposedMetal(f"{part.ref}.body", f"the body of {part.ref}", part.subject)


def make(design: Design) -> Wiring:
    """The wiring graph; raises Missing when nothing has been wired yet."""
    if not design.has_wiring:
        raise Missing("the wiring: [leads] and [wires]", ("wires",))
    return Wiring(design)
