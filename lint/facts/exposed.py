"""Exposed metal, and the way each piece has to the protective-earth pin."""

from __future__ import annotations

from typing import NamedTuple

from coldcheck.lint.design import METAL, Design, PartUse, WireUse
from coldcheck.lint.facts.mains_side import mains_inlet
from coldcheck.lint.graphs.schematic import Body, Schematic, Section
from coldcheck.lint.graphs.wiring import ExposedMetal, Joint, Link, Wiring
from coldcheck.schemas.parts import ChassisBond, Cord

EARTH_COLOURS = ("green/yellow", "green", "yellow/green", "bare")
"""IEC 60445 green/yellow; green or bare in US and Canadian practice (NEC 250.119)."""


class Way(NamedTuple):
    """One piece of exposed metal and how it is earthed, if it is."""

    metal: ExposedMetal
    earthed: tuple[Link, ...] | None
    """Protective conductors and fixings from the earth pin to it; None when there is no way."""
    conducting: tuple[Link, ...] | None
    """Any conductor at all, signal wiring included."""
    unfit: tuple[Link, ...]
    """Of those, the ones that are no protective conductors."""
    fixing: str | None
    """How the lug that first lands on metal is held: "own screw" and so on; None when not said."""
    lifted: tuple[str | Section, ...]
    """Where only a part joins it (switch, fuse, resistor): the way through the schematic."""

    @property
    def landing(self) -> Link | None:
        """The link of the protective way that first lands on metal."""
        for link in self.earthed or ():
            if any(end.startswith(METAL) for end in (link.a, link.b)):
                return link
        return None

    @property
    def wires(self) -> tuple[WireUse, ...]:
        """Wires of the protective way, from the earth pin on."""
        found = (link.wire for link in self.earthed or () if link.wire is not None)
        return tuple({wire.ref: wire for wire in found}.values())

    @property
    def parts(self) -> tuple[str, ...]:
        """Parts the way through the schematic passes, bonds left out."""
        passed = (step for step in self.lifted if isinstance(step, Section))
        return tuple(dict.fromkeys(s.part for s in passed if s.body is not Body.METAL))


class Exposed(NamedTuple):
    """All exposed metal of a mains-powered design."""

    inlet: PartUse
    pin: str
    ways: tuple[Way, ...]
    adrift: tuple[tuple[Way, ...], ...]
    """Pieces without a protective way, those together that are joined to one another."""


def make(design: Design, schematic: Schematic, wiring: Wiring) -> Exposed:
    """Follow protective conductors from the inlet's earth pin to every exposed piece of metal."""
    inlet = mains_inlet(design)
    pin = f"{inlet.ref}.PE"
    earthed = wiring.reach(pin, lambda link: protective(design, pin, link))
    conducting = wiring.reach(pin, lambda link: True)
    earth_net = inlet.net("PE")
    ways = []
    for metal in wiring.exposed:
        lifted: tuple[str | Section, ...] = ()
        joined = wiring.group_of(METAL)
        if metal.node not in conducting and metal.node in joined and earth_net is not None:
            lifted = schematic.path(earth_net, METAL, lambda section: section.part != inlet.ref)
        anyhow = conducting.get(metal.node)
        unfit = tuple(link for link in anyhow or () if not protective(design, pin, link))
        way = Way(metal, earthed.get(metal.node), anyhow, unfit, None, lifted)
        bond = design.parts.get(way.landing.subject.name) if way.landing is not None else None
        if bond is not None and isinstance(bond.spec, ChassisBond):
            way = way._replace(fixing=bond.spec.fixing)
        ways.append(way)
    adrift: dict[frozenset[str], list[Way]] = {}
    for way in ways:
        if way.earthed is None:
            adrift.setdefault(wiring.group_of(way.metal.node), []).append(way)
    return Exposed(inlet, pin, tuple(ways), tuple(map(tuple, adrift.values())))


def protective(design: Design, pin: str, link: Link) -> bool:
    """Whether a link may be part of the protective path: an earth wire, a bond, a fixing, or the
    earth conductor of a mains cord.

    A wire is one when its colour says so, or, where no colour is given, when it runs from bond
    to bond.
    """
    if link.joint is Joint.LEAD:
        return link.a == pin and isinstance(design.parts[link.subject.name].spec, Cord)
    if link.joint is not Joint.WIRE or link.wire is None:
        return link.joint in (Joint.BOND, Joint.MOUNTING, Joint.COVER)
    colour = link.wire.spec.colour.strip().lower()
    if colour:
        return colour in EARTH_COLOURS
    bonds = {f"{part.ref}.lug" for part in design.of(ChassisBond)} | {pin}
    return link.a in bonds and link.b in bonds
