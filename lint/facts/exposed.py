"""Exposed metal, and the way each piece has to the protective-earth pin."""

from __future__ import annotations

from dataclasses import dataclass

from coldcheck.lint.design import METAL, Design, PartUse
from coldcheck.lint.graphs.schematic import Schematic, Section
from coldcheck.lint.graphs.wiring import ExposedMetal, Joint, Link, Wiring
from coldcheck.lint.model import Missing
from coldcheck.schemas.parts import ChassisBond, Inlet

EARTH_COLOURS = ("green/yellow", "green", "yellow/green", "bare")
"""IEC 60445 green/yellow; green or bare in US and Canadian practice (NEC 250.119)."""


@dataclass(frozen=True, slots=True)
class Way:
    """One piece of exposed metal and how it is earthed, if it is."""

    metal: ExposedMetal
    earthed: tuple[Link, ...] | None
    """Protective conductors and fixings from the earth pin to it; None when there is no way."""
    conducting: tuple[Link, ...] | None
    """Any conductor at all, signal wiring included."""
    lifted: tuple[str | Section, ...]
    """Where only a part joins it (switch, fuse, resistor): the way through the schematic."""


@dataclass(frozen=True, slots=True)
class Exposed:
    """All exposed metal of a mains-powered design."""

    inlet: PartUse
    pin: str
    ways: tuple[Way, ...]


def make(design: Design, schematic: Schematic, wiring: Wiring) -> Exposed:
    """Follow protective conductors from the inlet's earth pin to every exposed piece of metal."""
    inlet = next(design.of(Inlet), None)
    if inlet is None:
        raise Missing("a mains inlet: a part of kind \"inlet\"", ("parts",))
    pin = f"{inlet.ref}.PE"
    earthed = wiring.reach(pin, lambda link: _protective(design, pin, link))
    conducting = wiring.reach(pin, lambda link: True)
    earth_net = inlet.net("PE")
    ways = []
    for metal in wiring.exposed:
        lifted: tuple[str | Section, ...] = ()
        if metal.node not in conducting and earth_net is not None:
            lifted = schematic.path(earth_net, METAL, lambda section: section.part != inlet.ref)
        ways.append(
            Way(metal, earthed.get(metal.node), conducting.get(metal.node), lifted)
        )
    return Exposed(inlet, pin, tuple(ways))


def _protective(design: Design, pin: str, link: Link) -> bool:
    """Whether a link may be part of the protective path: an earth wire, a bond, a fixing.

    A wire is one when its colour says so, or, where no colour is given, when it runs from bond
    to bond.
    """
    if link.joint is not Joint.WIRE or link.wire is None:
        return link.joint in (Joint.BOND, Joint.MOUNTING, Joint.COVER)
    colour = link.wire.spec.colour.strip().lower()
    if colour:
        return colour in EARTH_COLOURS
    bonds = {f"{part.ref}.lug" for part in design.of(ChassisBond)} | {pin}
    return link.a in bonds and link.b in bonds
