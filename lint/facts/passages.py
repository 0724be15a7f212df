"""Conductors that pass through metal: which hole each one takes, and those that take none."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from coldcheck.lint.design import Design, PartUse, Use
from coldcheck.lint.facts.live import high_nets, mains_nets
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.graphs.wiring import Wiring
from coldcheck.lint.model import Missing, Subject
from coldcheck.schemas.build import Hole, WireType
from coldcheck.schemas.parts import Wound
from coldcheck.schemas.reference import bundle_diameter as equal_bundle
from coldcheck.schemas.reference import wire_style

# Seven strands lie within 1.134 times the diameter of the solid wire of the same area: geometry
# of one strand ringed by six, (3 / sqrt(7)).
STRANDED = 3.0 / math.sqrt(7.0)
METALS = ("aluminium", "steel", "copper", "brass")


class Conductor(NamedTuple):
    """A wire, or the flying lead of a part, on its way through metal."""

    name: str
    subject: Subject
    mains: bool
    live: bool
    """At mains, or on the high-voltage side: what a winding above 30 V rms feeds."""
    diameter: float | None
    """Over its insulation, in metres; None when the wire type does not say."""


class Passage(NamedTuple):
    """A hole and what goes through it."""

    name: str
    hole: Hole
    subject: Subject
    conductors: tuple[Conductor, ...]

    @property
    def mains(self) -> bool:
        return any(conductor.mains for conductor in self.conductors)

    @property
    def live(self) -> bool:
        return any(conductor.live for conductor in self.conductors)

    @property
    def bundle(self) -> float | None:
        """Diameter of what passes it, in metres; None when one of them is not known."""
        known = [c.diameter for c in self.conductors if c.diameter is not None]
        return bundle_diameter(known) if len(known) == len(self.conductors) else None


class Passages(NamedTuple):
    """Every hole with conductors in it, and every conductor that needs a hole and has none."""

    sheet: float
    """Thickness of the metal, in metres."""
    holes: tuple[Passage, ...]
    without_hole: tuple[Conductor, ...]
    unplaced: tuple[PartUse, ...]
    """Parts with flying leads that the layout does not place."""


def make(design: Design, schematic: Schematic, wiring: Wiring) -> Passages:
    """Sort conductors by the hole they pass; raises Missing when there is no chassis."""
    if design.chassis is None:
        raise Missing("the chassis: its material and sheet thickness", ("chassis",))
    mains = _soldered(design, wiring, mains_nets(design, schematic))
    live = mains | _soldered(design, wiring, high_nets(design, schematic))
    through: dict[str, list[Conductor]] = {}
    bare: list[Conductor] = []
    unplaced: list[PartUse] = []
    for wire in design.wires.values():
        conductor = Conductor(
            wire.ref,
            wire.subject,
            not mains.isdisjoint(wire.run),
            not live.isdisjoint(wire.run),
            outer_diameter(wire.type),
        )
        for hole in wire.through:
            through.setdefault(hole, []).append(conductor)
        sides = {_outside(design, point) for point in wire.run}
        if sides == {True, False} and not wire.through:
            bare.append(conductor)
    for part in design.of(Wound):
        if part.leads and part.seat is None:
            unplaced.append(part)
        elif part.leads and _outside(design, f"{part.ref}.frame"):
            for taken, conductor in _leads(design, part, mains, live):
                if taken is None:
                    bare.append(conductor)
                else:
                    through.setdefault(taken, []).append(conductor)
    holes = tuple(
        Passage(name, hole, design.hole_subject(name), tuple(through[name]))
        for name, hole in design.holes.items()
        if name in through
    )
    metal = design.chassis.material in METALS
    return Passages(
        design.chassis.sheet, holes if metal else (), tuple(bare) if metal else (), tuple(unplaced)
    )


def bundle_diameter(diameters: Sequence[float]) -> float:
    """Diameter in metres of the circle that round wires of these diameters pass through.

    Unequal wires are taken as equal ones of the same total area, but never less than the two
    thickest side by side.

    >>> round(bundle_diameter([2.0, 2.0, 2.0]), 2)
    4.31
    """
    count = len(diameters)
    alike = math.sqrt(sum(d * d for d in diameters) / count)
    return max(equal_bundle(count, alike), sum(sorted(diameters)[-2:]))


def outer_diameter(kind: WireType) -> float | None:
    """Diameter over the insulation in metres, as given or from the size and the style's wall."""
    if kind.diameter is not None:
        return kind.diameter
    solid = 2.0 * math.sqrt(kind.size / math.pi)
    if kind.bare:
        return solid
    style = wire_style(kind.style) if kind.style is not None else None
    return None if style is None else STRANDED * solid + 2.0 * style.wall


def _leads(
    design: Design, part: Use[Wound], mains: frozenset[str], live: frozenset[str]
) -> list[tuple[str | None, Conductor]]:
    seat = part.seat
    assert seat is not None
    kind = design.document.wire_types.get(part.spec.lead or "")
    found = []
    for terminal in part.leads:
        winding = terminal.partition(".")[0]
        chosen = seat.leads_through
        hole = chosen.get(winding) if isinstance(chosen, dict) else chosen
        conductor = Conductor(
            f"{part.ref} {terminal} lead",
            part.subject,
            f"{part.ref}.{terminal}" in mains,
            f"{part.ref}.{terminal}" in live,
            outer_diameter(kind) if kind is not None else None,
        )
        found.append((hole, conductor))
    return found


def _outside(design: Design, point: str) -> bool:
    """Whether a tie point lies outside the metal box."""
    part = design.parts.get(point.partition(".")[0])
    if part is None or part.seat is None:
        return False
    if part.seat.side is not None:
        return part.seat.side == "outside"
    # a transformer or choke sits on top with flying leads; everything else shows its tags inside
    return isinstance(part.spec, Wound)


def _soldered(design: Design, wiring: Wiring, nets: Iterable[str]) -> frozenset[str]:
    """Tie points joined to any terminal of the nets, bare lugs on the way included."""
    ends = {f"{ref}.{t}" for net in nets for ref, t in design.nets[net]}
    return frozenset(
        point for group in wiring.joined() if not ends.isdisjoint(group) for point in group
    )
