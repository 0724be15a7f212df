"""Ground conductors: where signal ground meets the chassis, and the loops they close."""

from __future__ import annotations

import functools
from typing import NamedTuple

from coldcheck.lint.design import METAL, Design, natural
from coldcheck.lint.facts.exposed import protective
from coldcheck.lint.facts.places import Point3, place_of
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.graphs.wiring import Joint, Link, Wiring
from coldcheck.schemas.parts import MainsEntry

# What is easiest to take out of a loop comes first.
_READINESS = (Joint.MOUNTING, Joint.BOND, Joint.WIRE, Joint.LEAD, Joint.COVER, Joint.BUS)


class GroundLoop(NamedTuple):
    """A closed ring of ground conductors."""

    links: tuple[Link, ...]
    """In order round the ring."""
    area: float | None
    """Enclosed area in square metres from the places of the parts; None when one is not placed."""
    unplaced: tuple[str, ...]
    """Parts whose place is not known."""

    kept: frozenset[str]
    """Names of links that carry protective earth, and so must stay."""
    corners: tuple[Point3, ...] = ()
    """Places of its joints in order round the ring, in metres: those that have one."""

    @property
    def weakest(self) -> Link:
        """The link to take out: one that a part's mounting makes, else a bond, else a wire.

        Of several the last by name, for what was added last is most often what closed the loop.
        Never a protective conductor while another will do.
        """
        free = [link for link in self.links if link.name not in self.kept] or self.links
        first = min(_READINESS.index(link.joint) for link in free)
        alike = [link for link in free if _READINESS.index(link.joint) == first]
        return max(alike, key=lambda link: (natural(link.subject.name), link.name))

    def names(self, apart: Link) -> tuple[str, ...]:
        """The other links of the ring, wires by their names."""
        others = (link for link in self.links if link.subject != apart.subject)
        return tuple(
            dict.fromkeys(k.name if k.joint in (Joint.WIRE, Joint.BUS) else k.reads for k in others)
        )


class SignalGround(NamedTuple):
    """What the wiring says of ground."""

    nets: frozenset[str]
    """Nets that are signal ground: where reservoir and decoupling capacitors return to."""
    loops: tuple[GroundLoop, ...]


def make(design: Design, schematic: Schematic, wiring: Wiring) -> SignalGround:
    """Find ground conductors and every loop among them."""
    nets = schematic.ground()
    points = {f"{ref}.{t}" for net in nets for ref, t in design.nets[net] if t != METAL}
    conductors: set[str] = {METAL}
    for point in points:
        if point in wiring.graph:
            conductors |= wiring.group_of(point)
    conductors |= wiring.group_of(METAL)
    kept = _protective(design, wiring)
    rings = (_loop(design, links, kept) for links in wiring.loops(conductors))
    loops = tuple(ring for ring in rings if ring is not None)
    return SignalGround(nets, loops)


def _protective(design: Design, wiring: Wiring) -> frozenset[str]:
    """Links on the protective way from the inlet's earth pin to the chassis."""
    found: set[str] = set()
    for part in design.of(MainsEntry):
        pin = f"{part.ref}.PE"
        fit = functools.partial(protective, design, pin)
        found |= {link.name for link in wiring.reach(pin, fit).get(METAL, ())}
    return frozenset(found)


def _loop(design: Design, links: tuple[Link, ...], kept: frozenset[str]) -> GroundLoop | None:
    """A loop with its area; None for a ring that metal screwed to metal makes by itself."""
    if all(link.joint in (Joint.MOUNTING, Joint.COVER) for link in links):
        return None
    corners: list[Point3] = []
    unplaced: list[str] = []
    for joint in _joints(links):
        if joint.startswith(METAL):
            continue  # the sheet carries the current along the straight line between its bonds
        ref = joint.partition(".")[0]
        place = place_of(design, joint)
        if place is None:
            unplaced.append(ref)
        else:
            corners.append(place)
    area = None if unplaced else vector_area(corners)
    return GroundLoop(links, area, tuple(dict.fromkeys(unplaced)), kept, tuple(corners))


def _joints(links: tuple[Link, ...]) -> list[str]:
    """Tie points round a ring, in order."""
    if len(links) == 2:
        return [links[0].a, links[0].b]
    following = (*links[1:], links[0])
    return [
        link.b if link.b in (after.a, after.b) else link.a
        for link, after in zip(links, following, strict=True)
    ]


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
