"""Which standings of switches, fuses and broken parts a discharge can tell apart.

What hangs on the rest of a network by one node exchanges no current with it and discharges by
itself.  So whatever may open matters to the capacitors of its own block only: a biconnected
component of the graph whose edges are capacitors, conductors and all that may open.  Each block
is decided for one opening after the other, opened or closed; it falls into smaller blocks, and a
block met before is not looked at again.  A chain of n fuses so has n (n + 1) / 2 blocks out of 2^n
standings, and nothing is lost but milliohms: in one block all standings decay alike.

Where blocks are too many, the least cut between the ends of a capacitor says how it is left
without a path.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Literal, NamedTuple

import networkx as nx


class Edge(NamedTuple):
    """A two-terminal element between two nodes."""

    name: str
    a: str
    b: str


class Opening(NamedTuple):
    """Something that opens: a switch by its positions, a fuse, a part that may break."""

    name: str
    kind: Literal["switch", "fuse", "part"]
    """Of parts that break one does at a time; fuses blow in any number."""
    choices: Mapping[str, frozenset[str]]
    """How it may stand, as running first, and the edges that are not there then."""

    @property
    def running(self) -> str:
        return next(iter(self.choices))

    @property
    def edges(self) -> frozenset[str]:
        return frozenset().union(*self.choices.values())


Standing = Mapping[str, str]
"""Opening to choice, for those that do not stand as running."""
AS_RUNNING: Standing = MappingProxyType({})


class Found(NamedTuple):
    """Standings that some capacitor can tell from others, those of fewest changes first."""

    standings: tuple[Standing, ...]
    blocks: int
    """How many blocks they leave."""
    all: bool
    """Whether none was left out."""


def missing(openings: Iterable[Opening], standing: Standing) -> frozenset[str]:
    """The edges that are not there in a standing."""
    return frozenset().union(*(o.choices[standing.get(o.name, o.running)] for o in openings))


def allowed(openings: Iterable[Opening], standing: Standing) -> bool:
    """Whether no more than one part is broken in a standing."""
    return sum(o.kind == "part" and o.name in standing for o in openings) <= 1


def blocks(edges: Iterable[Edge]) -> list[tuple[Edge, ...]]:
    """The blocks of a graph, each in order of the edges given; a lone edge is one too.

    What has both ends on one node is in none.
    """
    order = {edge: at for at, edge in enumerate(edges) if edge.a != edge.b}
    between: dict[frozenset[str], list[Edge]] = {}
    for edge in order:
        between.setdefault(frozenset((edge.a, edge.b)), []).append(edge)
    graph: nx.Graph[str] = nx.Graph()
    graph.add_edges_from((edge.a, edge.b) for edge in order)
    found = (
        sorted((e for ends in block for e in between[frozenset(ends)]), key=order.__getitem__)
        for block in nx.biconnected_component_edges(graph)
    )
    return sorted(map(tuple, found), key=lambda block: order[block[0]])


def cut(
    edges: Sequence[Edge],
    openings: Sequence[Opening],
    volts: Mapping[str, float],
    least: float,
    most: int,
) -> Found:
    """Standings that leave every block there is, but those whose capacitors cannot have ``least``.

    ``volts`` are the capacitors' at mains off: in no block does any capacitor ever stand above
    the sum of their sizes.  No more than ``most`` blocks are looked at.
    """
    queue: list[tuple[int, int, tuple[Edge, ...], tuple[Opening, ...], Standing]] = []
    met: set[tuple[Shape, frozenset[str]]] = set()
    found: dict[Shape, Standing] = {}
    turn = itertools.count()

    def divide(left: Iterable[Edge], undecided: Iterable[Opening], standing: Standing) -> None:
        for block in blocks(left):
            if sum(abs(volts.get(edge.name, 0.0)) for edge in block) > least:
                names = {edge.name for edge in block}
                matter = tuple(o for o in undecided if not o.edges.isdisjoint(names))
                heapq.heappush(queue, (len(standing), next(turn), block, matter, standing))

    divide(edges, openings, AS_RUNNING)
    while queue and len(found) < most:
        _changes, _turn, block, undecided, standing = heapq.heappop(queue)
        key = _shape(block), frozenset(o.name for o in undecided)
        if key in met:
            continue
        met.add(key)
        if not undecided:
            found.setdefault(key[0], standing)
            continue
        opening, *rest = undecided
        taken: set[frozenset[str]] = set()
        for choice, gone in opening.choices.items():
            here = gone & {edge.name for edge in block}
            if here in taken:
                continue  # as another choice, to this block
            taken.add(here)
            changed = choice != opening.running
            broken = changed and opening.kind == "part"
            divide(
                _decided(block, opening, gone),
                [o for o in rest if not (broken and o.kind == "part")],
                {**standing, opening.name: choice} if changed else standing,
            )
    kept = {frozenset(standing.items()): standing for standing in found.values()}
    return Found(tuple(kept.values()), len(found), not queue)


Shape = frozenset[frozenset[tuple[str, int]]]
"""A block whatever its nodes are called: which ends of which edges meet."""


def _shape(block: Iterable[Edge]) -> Shape:
    meet: dict[str, list[tuple[str, int]]] = {}
    for edge in block:
        meet.setdefault(edge.a, []).append((edge.name, 0))
        meet.setdefault(edge.b, []).append((edge.name, 1))
    return frozenset(map(frozenset, meet.values()))


def _decided(block: Iterable[Edge], opening: Opening, gone: Collection[str]) -> list[Edge]:
    """A block without what is gone; contacts and fuses that close make one node of two.

    A choke or dropping resistor that is whole stays an edge.
    """
    left = [edge for edge in block if edge.name not in gone]
    if opening.kind == "part":
        return left
    for closed in [edge for edge in left if edge.name in opening.edges]:
        (now,) = (edge for edge in left if edge.name == closed.name)
        left = [
            Edge(e.name, *(now.a if net == now.b else net for net in (e.a, e.b)))
            for e in left
            if e.name != closed.name
        ]
    return left


def stranded(
    edges: Sequence[Edge], openings: Sequence[Opening], stores: Collection[str], store: str
) -> Iterator[Standing]:
    """Standings that leave no path between the ends of a capacitor, by least cuts.

    One with no part broken, and one for each part that helps; ``stores`` are the capacitors.
    """
    ends = next(edge for edge in edges if edge.name == store)
    for broken in (None, *(o for o in openings if o.kind == "part")):
        out = frozenset() if broken is None else broken.edges
        left = [e for e in edges if e.name not in out and e.name not in stores]
        standing = _least_cut(left, [o for o in openings if o.kind != "part"], ends)
        if standing is not None:
            word = {} if broken is None else {broken.name: list(broken.choices)[-1]}
            yield {**standing, **word}


def _least_cut(edges: Sequence[Edge], openings: Sequence[Opening], ends: Edge) -> Standing | None:
    """The standing that parts the ends by the fewest edges; None where none does."""
    if ends.a == ends.b:
        return None
    may_open = {name for opening in openings for name in opening.edges}
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from((ends.a, ends.b))
    for edge in edges:
        known = graph.get_edge_data(edge.a, edge.b, {"capacity": 0})
        if edge.name in may_open and "capacity" in known:
            graph.add_edge(edge.a, edge.b, capacity=known["capacity"] + 1)
        elif edge.name not in may_open:
            graph.add_edge(edge.a, edge.b)
            graph[edge.a][edge.b].pop("capacity", None)  # without one it cannot be cut
    try:
        _value, (near, _far) = nx.minimum_cut(graph, ends.a, ends.b)
    except nx.NetworkXUnbounded:
        return None
    severed = {e.name for e in edges if (e.a in near) != (e.b in near)}
    standing: dict[str, str] = {}
    for opening in openings:
        asked = severed & opening.edges
        choice = next((c for c, gone in opening.choices.items() if asked <= gone), None)
        if choice is None:
            return None  # no position of it opens all of them
        if choice != opening.running:
            standing[opening.name] = choice
    return standing


def farthest_first(
    edges: Iterable[Edge], openings: Iterable[Opening], store: str, ground: str
) -> list[Opening]:
    """The openings in order of how many edges they are from a capacitor, past no ground."""
    graph: nx.Graph[str] = nx.Graph()
    ends: dict[str, tuple[str, str]] = {}
    for edge in edges:
        graph.add_edge(edge.a, edge.b)
        ends[edge.name] = (edge.a, edge.b)
    starts = set(ends[store]) - {ground}
    graph.remove_nodes_from({ground} & set(graph))
    steps = nx.multi_source_dijkstra_path_length(graph, starts) if starts else {}

    def away(opening: Opening) -> int:
        nets = {net for name in opening.edges if name in ends for net in ends[name]}
        return min((int(steps[net]) for net in nets if net in steps), default=len(ends))

    return sorted(openings, key=away, reverse=True)
