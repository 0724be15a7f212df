"""Input loops: the way from an input to the first grid and from its cathode back, as wired.

The way goes along wires, leads and the bodies of resistors, capacitors and controls, and where
there are several it is the shortest by the places of the parts.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from coldcheck.lint.design import METAL, Design, PartUse, Use, WireUse
from coldcheck.lint.facts.places import Point3, place_of
from coldcheck.lint.facts.stages import Stage
from coldcheck.lint.graphs.schematic import electrode_pins
from coldcheck.lint.graphs.wiring import Wiring
from coldcheck.schemas.parts import Capacitor, Connector, Potentiometer, Resistor

Passed = Resistor | Capacitor | Potentiometer
"""Parts whose bodies the signal goes through."""

UNKNOWN = 0.05
"""Metres taken between two points one of which has no place, to choose between ways; our choice."""


class InputLoop(NamedTuple):
    """The ring that the signal of one input goes round at its first stage."""

    contact: str
    """Where it enters: "J2.tip"."""
    part: Use[Connector]
    stage: Stage
    corners: tuple[Point3, ...]
    """Places along the way and back, in metres."""
    there: tuple[WireUse, ...]
    """Wires that carry the signal."""
    back: tuple[WireUse, ...]
    unplaced: tuple[str, ...]
    """Parts along it without a place."""


Ways = Mapping[str, list[tuple[str, float, WireUse | None]]]


def input_loops(
    design: Design, wiring: Wiring, ground: frozenset[str], stages: tuple[Stage, ...]
) -> tuple[InputLoop, ...]:
    """A ring for every contact of an input and every grid it reaches before anything amplifies.

    One that is soldered nowhere, or cannot be followed, is left out: other rules speak of that.
    """
    ways = _ways(design, wiring)
    plates = {stage.plate for stage in stages}
    found = []
    for part in design.of(Connector):
        common = part.spec.shell or part.spec.contacts[-1]
        for contact in part.spec.contacts if part.spec.role == "input" else ():
            live = part.net(contact)
            if contact == common or live is None or live in ground:
                continue
            nets = _reached(design, live, ground | plates | {METAL})
            for stage in stages:
                if stage.grid in nets:
                    found.append(_loop(design, ways, part, contact, common, stage, nets))
    return tuple(loop for loop in found if loop is not None)


def input_nets(design: Design, ground: frozenset[str], stages: tuple[Stage, ...]) -> frozenset[str]:
    """Nets of the inputs and all that they lead to before anything amplifies."""
    closed = ground | {stage.plate for stage in stages} | {METAL}
    found: frozenset[str] = frozenset()
    for part in design.of(Connector):
        common = part.spec.shell or part.spec.contacts[-1]
        for contact in part.spec.contacts if part.spec.role == "input" else ():
            live = part.net(contact)
            if contact != common and live is not None and live not in closed:
                found |= _reached(design, live, closed)
    return found


def _loop(
    design: Design,
    ways: Ways,
    part: Use[Connector],
    contact: str,
    common: str,
    stage: Stage,
    nets: frozenset[str],
) -> InputLoop | None:
    tube = stage.part
    grids = [f"{tube.ref}.{pin}" for pin in electrode_pins(tube, "grid", stage.section)]
    cathodes = [f"{tube.ref}.{pin}" for pin in electrode_pins(tube, "cathode", stage.section)]
    points = {f"{ref}.{t}" for net in nets for ref, t in design.nets.get(net, ())}
    others = {f"{ref}.{t}" for ends in design.nets.values() for ref, t in ends} - points
    there = _way(ways, f"{part.ref}.{contact}", grids, others | {METAL})
    start = next((pin for pin in cathodes if pin in ways), None)
    back = start and _way(ways, start, [f"{part.ref}.{common}"], points)
    if not there or not back:
        return None
    corners: list[Point3] = []
    unplaced: list[str] = []
    for point, _wire in (*there, *back):
        place, ref = place_of(design, point), point.partition(".")[0]
        if place is None and ref in design.parts and not design.parts[ref].leads:
            unplaced.append(ref)
        if place is not None and (not corners or place != corners[-1]):
            corners.append(place)
    return InputLoop(
        contact=f"{part.ref}.{contact}",
        part=part,
        stage=stage,
        corners=tuple(corners),
        there=tuple(wire for _point, wire in there if wire is not None),
        back=tuple(wire for _point, wire in back if wire is not None),
        unplaced=tuple(dict.fromkeys(unplaced)),
    )


def _reached(design: Design, live: str, closed: frozenset[str]) -> frozenset[str]:
    """Nets that a net leads to through resistors, capacitors and controls, ``closed`` ones not."""
    found, waiting = {live}, [live]
    while waiting:
        here = waiting.pop()
        for ref, _terminal in design.nets.get(here, ()):
            if isinstance(design.parts[ref].spec, Passed):
                beyond = set(design.parts[ref].ends.values()) - found - closed
                found |= beyond
                waiting += sorted(beyond)
    return frozenset(found)


def _ways(design: Design, wiring: Wiring) -> Ways:
    """From each tie point to its neighbours: metres, and the wire, if it is one."""
    ways: dict[str, list[tuple[str, float, WireUse | None]]] = {}
    pairs: list[tuple[str, str, WireUse | None]] = [(k.a, k.b, k.wire) for k in wiring.links]
    for part in design.parts.values():
        if isinstance(part.spec, Passed):
            ends = [f"{part.ref}.{terminal}" for terminal in part.ends]
            pairs += [(a, b, None) for a, b in itertools.combinations(ends, 2)]
    for a, b, wire in pairs:
        one, other = (_seat_of(design, point) for point in (a, b))
        metres = math.dist(one, other) if one is not None and other is not None else UNKNOWN
        ways.setdefault(a, []).append((b, metres, wire))
        ways.setdefault(b, []).append((a, metres, wire))
    return ways


def _seat_of(design: Design, point: str) -> Point3 | None:
    """Where a point is; of a part that hangs in its leads, where the lead is soldered."""
    ref, _dot, terminal = point.partition(".")
    part: PartUse | None = design.parts.get(ref)
    soldered = part.leads.get(terminal) if part is not None else None
    return place_of(design, soldered or point)


def _way(
    ways: Ways, start: str, ends: list[str], closed: set[str]
) -> list[tuple[str, WireUse | None]] | None:
    """The shortest way to any of the ends: its points, each with the wire that leads to it."""
    waiting: list[tuple[float, int, str]] = [(0.0, 0, start)]
    came: dict[str, tuple[str, WireUse | None] | None] = {start: None}
    least = {start: 0.0}
    order = itertools.count(1)
    while waiting:
        metres, _tie, here = heapq.heappop(waiting)
        if here in ends:
            return list(_steps(came, here))[::-1]
        if metres > least[here]:
            continue
        for other, length, wire in ways.get(here, ()):
            total = metres + length
            if other not in closed and total < least.get(other, math.inf):
                least[other], came[other] = total, (here, wire)
                heapq.heappush(waiting, (total, next(order), other))
    return None


def _steps(
    came: Mapping[str, tuple[str, WireUse | None] | None], here: str
) -> Iterator[tuple[str, WireUse | None]]:
    step = came[here]
    while step is not None:
        yield here, step[1]
        here, step = step[0], came[step[0]]
    yield here, None
