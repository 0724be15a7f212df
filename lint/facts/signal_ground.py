"""Ground conductors: where signal ground meets the chassis, and the loops they close."""

from __future__ import annotations

from dataclasses import dataclass

from coldcheck.lint.design import METAL, Design
from coldcheck.lint.facts.places import Point3, place_of
from coldcheck.lint.graphs.schematic import DC, Schematic
from coldcheck.lint.graphs.wiring import Joint, Link, Wiring


@dataclass(frozen=True, slots=True)
class GroundLoop:
    """A closed ring of ground conductors."""

    links: tuple[Link, ...]
    """In order round the ring."""
    area: float | None
    """Enclosed area in square metres from the places of the parts; None when one is not placed."""
    unplaced: tuple[str, ...]
    """Parts whose place is not known."""

    @property
    def through_chassis(self) -> bool:
        return any(METAL in (link.a, link.b) for link in self.links)


@dataclass(frozen=True, slots=True)
class SignalGround:
    """What the wiring says of ground."""

    nets: frozenset[str]
    """Nets that are signal ground: where reservoir and decoupling capacitors return to."""
    bonds: tuple[Link, ...]
    """Conductors that join signal ground to the chassis."""
    to_chassis: bool
    """Whether signal ground has a dc path to the chassis at all, by parts or conductors."""
    loops: tuple[GroundLoop, ...]


def make(design: Design, schematic: Schematic, wiring: Wiring) -> SignalGround:
    """Find ground conductors, their links to the chassis, and every loop among them."""
    nets = schematic.ground()
    earthed = schematic.reach(METAL, lambda section: section.body in DC)
    points = {f"{ref}.{t}" for net in nets for ref, t in design.nets[net] if t != METAL}
    conductors: set[str] = {METAL}
    for point in points:
        if point in wiring.graph:
            conductors |= wiring.group_of(point)
    conductors |= wiring.group_of(METAL)
    inside = wiring.reach_without_metal(points)
    bonds = tuple(
        link
        for link in wiring.links
        if METAL in (link.a, link.b) and (link.a in inside or link.b in inside)
    )
    loops = [
        loop for links in wiring.loops(conductors) if (loop := _loop(design, links)) is not None
    ]
    return SignalGround(nets, bonds, bool(nets & earthed), tuple(loops))


def _loop(design: Design, links: tuple[Link, ...]) -> GroundLoop | None:
    """A loop with its area; None for a ring that metal screwed to metal makes by itself."""
    if all(link.joint in (Joint.MOUNTING, Joint.COVER) for link in links):
        return None
    corners: list[Point3] = []
    unplaced: list[str] = []
    for at, link in enumerate(links):
        after = links[(at + 1) % len(links)]
        joint = link.b if link.b in (after.a, after.b) else link.a
        if joint.startswith(METAL):
            continue  # the sheet carries the current along the straight line between its bonds
        ref = joint.partition(".")[0]
        place = place_of(design, joint)
        if place is None:
            unplaced.append(ref)
        else:
            corners.append(place)
    area = None if unplaced else vector_area(corners)
    return GroundLoop(links, area, tuple(dict.fromkeys(unplaced)))


def vector_area(corners: list[Point3]) -> float:
    """Area in square metres of the ring through ``corners`` (metres), flat or not.

    Half the length of the sum of cross products of successive corners: what a uniform field
    at right angles to it would link (Stokes).

    >>> vector_area([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)])
    1.0
    """
    x = y = z = 0.0
    for (ax, ay, az), (bx, by, bz) in zip(corners, corners[1:] + corners[:1], strict=True):
        x += ay * bz - az * by
        y += az * bx - ax * bz
        z += ax * by - ay * bx
    return 0.5 * float((x * x + y * y + z * z) ** 0.5)
