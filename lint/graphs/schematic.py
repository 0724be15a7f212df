"""The schematic as a bipartite graph: nets on one side, sections of parts on the other.

A part is as many nodes as it has conducting bodies: a tube one per section and its heater, a
transformer one per winding, a switch one per position and pair it joins.  An edge is a terminal.
"""

from __future__ import annotations

import enum
import functools
from collections.abc import Callable, Iterator
from typing import NamedTuple

import networkx as nx

from coldcheck.lint.design import METAL, Design, PartUse
from coldcheck.lint.model import Missing
from coldcheck.schemas.parts import (
    BipolarTransistor,
    Bridge,
    Capacitor,
    ChassisBond,
    Choke,
    Diode,
    Fuse,
    Lamp,
    Led,
    MainsTransformer,
    Mosfet,
    OutputTransformer,
    Part,
    Potentiometer,
    Regulator,
    Resistor,
    Switch,
    Thermistor,
    Transistor,
    Tube,
    VoltageSource,
    Zener,
)


class Body(enum.Enum):
    """How a section of a part carries current between its nets."""

    METAL = "metal"
    """A bond, a closed fuse or switch: no resistance to speak of."""
    FUSE = "fuse"
    SWITCH = "switch"
    RESISTOR = "resistor"
    COIL = "coil"
    CAPACITOR = "capacitor"
    DIODE = "diode"
    HEATER = "heater"
    TUBE = "tube"
    SOURCE = "source"
    TRANSISTOR = "transistor"
    """A transistor or regulator that is known: what stands on one side of it feeds the other."""
    BLACK_BOX = "black box"


DC = frozenset(
    {Body.METAL, Body.FUSE, Body.SWITCH, Body.RESISTOR, Body.COIL, Body.HEATER, Body.SOURCE}
)
"""Bodies that pass dc both ways whatever the tubes do."""
FEEDS = DC | {Body.DIODE, Body.TRANSISTOR}
FIXED = frozenset({Body.METAL, Body.RESISTOR, Body.COIL, Body.HEATER})
"""As DC, without what opens: fuses, switches, and without sources."""


class Section(NamedTuple):
    """One conducting body of a part; ``name`` reads "T1 ht" or "V1 section 2"."""

    ref: str
    part: str
    name: str
    body: Body
    nets: tuple[str, ...]
    """In order of terminals; a diode's anode comes first."""


class Electrode(NamedTuple):
    """An electrode of one section of a tube."""

    section: int
    name: str
    """``grid``, ``plate``, ...: as the library has it, without the section's number."""
    pins: tuple[int, ...]
    net: str | None
    """None when it is left open."""


NetNode = tuple[str, str]
# A resistor between signal ground and chassis has 10 ohm to some hundreds (common practice, no
# source); the dividers that lift heaters or set a bias have kilohms.
LIFT_OHMS = 1e3


class Schematic:
    """The schematic graph with the walks a review needs."""

    metal = METAL
    """The chassis, as a net."""
    passes_dc = DC

    def __init__(self, design: Design) -> None:
        self.design = design
        self.sections: dict[str, Section] = {}
        self.graph: nx.Graph[NetNode] = nx.Graph()
        for net in design.nets:
            self.graph.add_node(("net", net))
        for part in design.parts.values():
            for section in sections(part):
                self.sections[section.ref] = section
                self.graph.add_node(("part", section.ref))
                for net in section.nets:
                    self.graph.add_edge(("net", net), ("part", section.ref))

    def reach(
        self,
        net: str,
        through: Callable[[Section], bool],
        short_of: frozenset[str] = frozenset(),
    ) -> frozenset[str]:
        """Nets that can be reached from ``net`` by sections ``through`` admits.

        Not by way of the nets ``short_of``, and without them.
        """
        if ("net", net) not in self.graph:
            return frozenset()
        seen, edge = {net}, [net]
        while edge:
            here = edge.pop()
            for _kind, ref in self.graph[("net", here)]:
                section = self.sections[ref]
                if through(section):
                    for other in section.nets:
                        if other not in seen and other not in short_of:
                            seen.add(other)
                            edge.append(other)
        return frozenset(seen)

    def held(self, net: str) -> frozenset[str]:
        """As :meth:`dc`, short of ground and chassis: what shares a supply, or a bias, with it.

        Nothing for ground itself.
        """
        ends = self.ground() | {METAL}
        if net in ends:
            return frozenset()
        return self.reach(net, lambda section: section.body in DC, ends)

    @functools.cached_property
    def wound(self) -> frozenset[str]:
        """Nets held by a secondary of a mains transformer: its own, and what resistors join."""
        ends = (
            {
                net
                for part in self.design.of(MainsTransformer)
                for end, net in part.ends.items()
                if not end.startswith("primary.")
            }
            - self.ground()
            - {METAL}
        )
        return frozenset().union(*(self.held(net) for net in sorted(ends)))

    def dc(self, net: str) -> frozenset[str]:
        """Nets joined to ``net`` by what passes dc both ways: no capacitor, diode or tube."""
        return self.reach(net, lambda section: section.body in DC)

    def fed(self, net: str) -> frozenset[str]:
        """As :meth:`dc`, by way of rectifiers and regulators too: a supply holds what it feeds."""
        return self.reach(net, lambda section: section.body in FEEDS)

    def drains(self, net: str, tube: str) -> frozenset[str]:
        """Nets a tube's cathode on ``net`` can lose its current to: past all but capacitors, and
        by other tubes, but not by the tube itself."""
        return self.reach(
            net,
            lambda s: s.body is not Body.CAPACITOR and (s.body is not Body.TUBE or s.part != tube),
        )

    def path(
        self, start: str, goal: str, through: Callable[[Section], bool]
    ) -> tuple[str | Section, ...]:
        """The shortest way from net to net: net, section, net, ...; empty when there is none.

        Of ways equally short, the one met first in order of part names: never of net names, so
        that renaming a net changes no finding.
        """
        if start not in self.design.nets or goal not in self.design.nets:
            return ()
        ways: dict[str, tuple[str | Section, ...]] = {start: (start,)}
        edge = [start]
        while edge and goal not in ways:
            following: list[str] = []
            for here in edge:
                for section in self.at(here):
                    for other in section.nets if through(section) else ():
                        if other not in ways:
                            ways[other] = (*ways[here], section, other)
                            following.append(other)
            edge = following
        return ways.get(goal, ())

    def at(self, net: str) -> tuple[Section, ...]:
        """Sections with a terminal on a net, in order of name."""
        node = ("net", net)
        if node not in self.graph:
            return ()
        return tuple(self.sections[ref] for ref in sorted(ref for _kind, ref in self.graph[node]))

    def of(self, part: str) -> tuple[Section, ...]:
        """The sections of a part."""
        return tuple(s for s in self.sections.values() if s.part == part)

    def electrodes(self, part: PartUse) -> tuple[Electrode, ...]:
        """Every electrode of a tube but its heater; nothing when the type is not known."""
        return tuple(
            Electrode(
                section.number,
                name,
                electrode_pins(part, name, section.number),
                electrode_net(part, name, section.number),
            )
            for section in (part.tube.sections if part.tube is not None else ())
            for name in sorted(section.electrodes, key=lambda name: section.electrodes[name])
        )

    def ground(self) -> frozenset[str]:
        """Signal ground: nets that electrolytic capacitors return their negative ends to.

        Two capacitors at least; where only one is fitted, its return.  Not a net that stands off
        from the main one by kilohms, as the tap that lifts the heaters and a bias supply's
        negative do, nor one that no cathode comes back to, as a heater supply's.  Common
        practice, no source.
        """
        return self._ground

    @functools.cached_property
    def _ground(self) -> frozenset[str]:
        bonded = self.reach(METAL, lambda section: section.body is Body.METAL)
        returns: dict[str, int] = {}
        for part in self.design.of(Capacitor):
            minus, plus = part.net("-"), part.net("+")
            # a negative supply, or a slip, has its + on what is bonded to the metal
            for net in (minus, plus if plus in bonded else None):
                if net is not None:
                    returns[net] = returns.get(net, 0) + 1
        most = max(returns.values(), default=0)
        found = [net for net, count in returns.items() if count >= min(2, most)]
        if len(found) < 2:
            return frozenset(found)
        main = max(found, key=lambda net: (net in bonded, returns[net], len(self.at(net))))
        tied, linked = self.reach(main, self._ties), self.dc(main)
        cathodes = {
            electrode.net
            for part in self.design.of(Tube)
            for electrode in self.electrodes(part)
            if electrode.name == "cathode"
        }
        return frozenset(
            net
            for net in found
            if net in tied or (net not in linked and cathodes & self.dc(net) != set())
        )

    def _ties(self, section: Section) -> bool:
        """Whether a section may stand between two nets that are both signal ground."""
        if section.body is Body.RESISTOR:
            return getattr(self.design.parts[section.part].spec, "value", 0.0) <= LIFT_OHMS
        return section.body in (Body.METAL, Body.FUSE, Body.SWITCH)

    def same_potential(self) -> dict[str, str]:
        """Net -> the first name of the nets it is one with through chassis bonds."""
        found: dict[str, str] = {}
        for net in self.design.nets:
            joined = self.reach(net, lambda section: section.body is Body.METAL)
            found[net] = min(joined)
        return found


def sections(part: PartUse) -> Iterator[Section]:
    """The conducting bodies of a part whose terminals are on nets."""
    spec = part.spec
    if isinstance(spec, Tube):
        yield from _tube_sections(part)
    elif isinstance(spec, MainsTransformer | OutputTransformer):
        wound: dict[str, int] = {}
        for winding, terminals in spec.coils():
            wound[winding] = wound.get(winding, 0) + 1
            # windings alike in name are joined by nothing but the core
            more = f" {wound[winding]}" if wound[winding] > 1 else ""
            if nets := _on_nets(part, *terminals):
                ref = f"{part.ref} {winding}{more}"
                yield Section(ref, part.ref, winding, Body.COIL, _unique(nets))
    elif isinstance(spec, Switch):
        for position, pairs in spec.positions.items():
            for pair in pairs:
                joined = _on_nets(part, *pair.split("-"))
                if len(joined) == 2:
                    ref = f"{part.ref} {position} {pair}"
                    yield Section(ref, part.ref, pair, Body.SWITCH, _unique(joined))
    elif isinstance(spec, ChassisBond):
        net = part.net("lug")
        if net is not None:
            yield Section(part.ref, part.ref, "bond", Body.METAL, _unique([net, METAL]))
    elif isinstance(spec, Bridge):
        for ac in ("ac1", "ac2"):
            for pole in ("+", "-"):
                nets = _on_nets(part, *((ac, pole) if pole == "+" else (pole, ac)))
                if len(nets) == 2:
                    name = f"{ac}{pole}"
                    yield Section(f"{part.ref} {name}", part.ref, name, Body.DIODE, _unique(nets))
    else:
        body = _BODIES.get(type(spec))
        nets = _on_nets(part, *spec.terminals())
        if body is not None and nets:
            yield Section(part.ref, part.ref, "", body, _unique(nets))


_BODIES: dict[type[Part], Body] = {
    Resistor: Body.RESISTOR,
    Potentiometer: Body.RESISTOR,
    Lamp: Body.RESISTOR,
    Thermistor: Body.RESISTOR,
    Capacitor: Body.CAPACITOR,
    Choke: Body.COIL,
    Fuse: Body.FUSE,
    Diode: Body.DIODE,
    Led: Body.DIODE,
    Zener: Body.DIODE,
    VoltageSource: Body.SOURCE,
    Transistor: Body.BLACK_BOX,
    BipolarTransistor: Body.TRANSISTOR,
    Mosfet: Body.TRANSISTOR,
    Regulator: Body.TRANSISTOR,
}


def _tube_sections(part: PartUse) -> Iterator[Section]:
    kind = part.tube
    if kind is None or not kind.pins:
        nets = tuple(dict.fromkeys(part.ends.values()))
        yield Section(part.ref, part.ref, "", Body.TUBE, nets)
        return
    for section in kind.sections:
        found = [electrode_net(part, name, section.number) for name in sorted(section.electrodes)]
        if "cathode" not in section.electrodes:
            found += [part.net(str(pin)) for name in EMITTING for pin in kind.pins_of(name)]
        nets = _unique([net for net in found if net is not None])
        name = "" if len(kind.sections) == 1 else f"section {section.number}"
        if nets:
            yield Section(f"{part.ref} {name}".strip(), part.ref, name, Body.TUBE, nets)
    heated = [
        part.ends[str(pin)]
        for pin, electrode in sorted(kind.pins.items())
        if electrode in HEATED and str(pin) in part.ends
    ]
    if heated:
        yield Section(f"{part.ref} heater", part.ref, "heater", Body.HEATER, _unique(heated))


def electrode_pins(part: PartUse, electrode: str, section: int) -> tuple[int, ...]:
    """Pins of an electrode of one section, those joined inside the bulb included."""
    assert part.tube is not None
    own = part.tube.pins_of(f"{electrode}_{section}") or part.tube.pins_of(electrode)
    # a cathode that is the heater as well goes by the heater's name
    named = (s.electrodes.get(electrode) for s in part.tube.sections if s.number == section)
    return own or tuple(pin for pin in named if pin is not None)


def electrode_net(part: PartUse, electrode: str, section: int) -> str | None:
    """The net an electrode is on, by whichever of its pins is used; None when it is left open."""
    pins = (str(pin) for pin in electrode_pins(part, electrode, section))
    return next((part.ends[pin] for pin in pins if pin in part.ends), None)


HEATED = ("heater", "heater_tap", "filament", "heater_cathode")
"""Electrodes that heater current flows through."""
EMITTING = ("filament", "heater_cathode")
"""Of these, those that are the cathode as well."""


def _on_nets(part: PartUse, *terminals: str) -> list[str]:
    """The nets of those of the terminals that are on one."""
    return [part.ends[terminal] for terminal in terminals if terminal in part.ends]


def _unique(nets: list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(nets))


def make(design: Design) -> Schematic:
    """The schematic graph; raises Missing when the document has no schematic."""
    if not design.nets:
        raise Missing("the schematic", ("schematic",))
    return Schematic(design)
