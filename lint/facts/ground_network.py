"""The ground network: what hum the resistance of ground wires makes, by which wire, at which stage.

With the mains nominal and no signal.  Copper is as warm as the air inside; leads and solder resist
nothing, a bond or a mounting foot as much as a closed contact.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from coldcheck.lint.design import METAL, Design
from coldcheck.lint.facts.conductors import Conductors
from coldcheck.lint.facts.feeds import Feeds
from coldcheck.lint.facts.full_drive import FullDrive, Output
from coldcheck.lint.facts.ratings import RISE_INSIDE
from coldcheck.lint.facts.stages import Stage, Stages
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.graphs.schematic import Body, Schematic, Section, electrode_pins
from coldcheck.lint.graphs.wiring import Joint, Link, Wiring
from coldcheck.lint.model import Basis, Datum, Missing, NothingToJudge
from coldcheck.lint.netlist import TIE, Setting, netlist
from coldcheck.lint.netlist.soldered import Soldered, soldered
from coldcheck.lint.physics.circuit import Resistor
from coldcheck.lint.physics.ground_hum import Complex, WiredHum, rms, spectrum, wired_hum
from coldcheck.schemas.parts import Connector, GroundBus
from coldcheck.schemas.reference import wire_resistance

BUS_AREA = 2.08e-6
"""Copper of a ground bus in m2: bare 14 AWG, which is usual (assumed; no document says it)."""

LEAST_AMPERES = 1e-6
"""Below it a bond carries nothing, whatever resistance it has; our choice."""
DECOUPLING = "decoupling by"
SPARED = 1.0 / 3.0
"""Of the current of a shared conductor a return that is no part of its loop has less than this, and
of how well it is heard more; our choice."""


class Hum(NamedTuple):
    """rms volts at an output, its mean left out."""

    wired: float
    """With the ground wires as they are."""
    bare: float
    """With ground one point: ripple alone."""
    ground: float
    """What the ground wires bring, by itself."""


class Share(NamedTuple):
    """What one conductor brings to the hum of an output."""

    link: Link
    ohms: float
    amperes: float
    """rms through it, its mean left out."""
    heard: float
    """Volts at the output for a volt along it, where the ground's hum is strongest."""
    volts: float
    """Its part of :attr:`Hum.ground`, whose sum they are: below 0 where it takes some away."""
    left: float
    """rms of what the ground wires would bring without it, in volts."""


class Return(NamedTuple):
    """Where something of a stage comes back to ground."""

    what: str
    """"cathode return", "grid return", "input", "decoupling by C3"."""
    point: str
    """The terminal: "R5.2"."""

    @property
    def signal(self) -> bool:
        """Whether a volt there is as good as one of signal."""
        return not self.what.startswith(DECOUPLING)


class Apart(NamedTuple):
    """Hum between two returns of a stage, in volts rms."""

    a: Return
    b: Return
    volts: float
    mains: float
    """At the mains frequency."""
    twice: float
    """At twice that, where full-wave rectifiers charge."""


class GroundNetwork:
    """Solved when a figure is first asked for; raises what that raises, and Missing for a length."""

    def __init__(
        self,
        design: Design,
        schematic: Schematic,
        wiring: Wiring,
        conductors: Conductors,
        stages: Stages,
        feeds: Feeds,
        warm: Warm,
        full: FullDrive,
    ) -> None:
        self._design, self._schematic, self._wiring = design, schematic, wiring
        self._conductors, self._stages, self._feeds = conductors, stages, feeds
        self._warm, self._full = warm, full
        self._known: dict[Output, dict[str, Complex]] = {}

    @property
    def state(self) -> State:
        return self._warm.nominal

    @property
    def outputs(self) -> tuple[Output, ...]:
        """Those that something is connected to."""
        state = self.state
        return tuple(out for out in self._full.outputs if state.has(out.a) and state.has(out.b))

    @functools.cached_property
    def rests_on(self) -> tuple[Datum, ...]:
        buses = (
            Datum(f"{part.ref} as bare wire of 14 AWG", Basis.ASSUMED)
            for part in self._design.of(GroundBus)
        )
        links, hum = self.soldered.links, self.wired
        joints = [n for n, k in links.items() if k.joint in (Joint.BOND, Joint.MOUNTING)]
        carried = any(rms(hum.amperes(name)) > LEAST_AMPERES for name in joints)
        metal = [Datum("10 mohm for each bond and mounting foot", Basis.ASSUMED)] * carried
        return (*self._full.rests_on, *buses, *metal)

    @functools.cached_property
    def _ground(self) -> frozenset[str]:
        """Signal ground and every net that bonds make one with it."""
        same = self._schematic.same_potential()
        names = {same[net] for net in self._schematic.ground()}
        if not names:
            raise NothingToJudge("no net of it is a ground that capacitors return to")
        return frozenset(net for net, name in same.items() if name in names)

    @functools.cached_property
    def soldered(self) -> Soldered:
        """The design with its ground wires as resistors; raises Missing for one without a length."""
        return soldered(self._design, self._wiring, self._ground, self._ohms)

    @functools.cached_property
    def wired(self) -> WiredHum:
        """The warm state, mains nominal, on the circuit whose ground nodes are tie points."""
        split, state = self.soldered, self.state
        setting = Setting(self._warm.mains["nominal"])
        written = netlist(split.design, setting, split.conductors).circuit
        # a section of a tube with all its pins on ground is in no circuit until they are apart
        known = {element.name for element in state.netlist.circuit.elements} | split.links.keys()
        kept = (e for e in written.elements if e.name in known or e.name.startswith(TIE))
        return wired_hum(state.solved, written._replace(elements=tuple(kept)))

    def _ohms(self, link: Link) -> float:
        if link.joint is not Joint.BUS:
            return self._conductors.ohms(link)
        bus = self._design.parts[link.subject.name]
        pitch = bus.spec.pitch if isinstance(bus.spec, GroundBus) else None
        if pitch is None:
            raise Missing(f"the pitch of {bus.ref}", (*bus.path, "pitch"), bus.subject)
        return pitch * wire_resistance(BUS_AREA, self._design.document.site.ambient + RISE_INSIDE)

    def ends(self, output: Output) -> tuple[str, str]:
        """The nodes of that circuit at which an output's contacts are."""
        part = self._design.parts[output.ref]
        a, b = (next(self.soldered.nets(part, net)) for net in (output.a, output.b))
        return a, b

    def hum(self, output: Output) -> Hum:
        """Hum at an output with the ground wires, without, and the difference, in volts rms."""
        wired = self.wired.volts(*self.ends(output))
        bare = spectrum(self.state.between(output.a, output.b)[None, :])[:, 0]
        return Hum(rms(wired), rms(bare), rms(wired - bare))

    def shares(self, output: Output) -> tuple[Share, ...]:
        """Every ground conductor, the one that brings most first."""
        found, hum = [], self.wired
        heard = self._heard(output)
        brought = {name: times * hum.along(name) for name, times in heard.items()}
        whole = np.sum([*brought.values()], axis=0)
        size, strongest = rms(whole), int(abs(whole).argmax())
        for name, phasors in brought.items():
            part = float((phasors * whole.conj()).real.sum() / size) if size else 0.0
            amperes, left = rms(hum.amperes(name)), rms(whole - phasors)
            times = float(abs(heard[name][strongest]))
            ohms = self._resistors[name].ohms
            found.append(Share(self.soldered.links[name], ohms, amperes, times, part, left))
        return tuple(sorted(found, key=lambda share: -share.volts))

    def brought(self, output: Output, buses: bool) -> float:
        """Hum that the spans of buses, or all other conductors, bring an output, in volts rms."""
        heard, links = self._heard(output), self.soldered.links
        names = [name for name in heard if (links[name].joint is Joint.BUS) == buses]
        parts = [heard[name] * self.wired.along(name) for name in names]
        return rms(np.sum(parts, axis=0)) if parts else 0.0

    def most(self, output: Output, buses: bool) -> Share:
        """Of these the conductor that brings most."""
        return next(s for s in self.shares(output) if (s.link.joint is Joint.BUS) == buses)

    def order(self, bus: str) -> tuple[tuple[str, float], ...]:
        """Wires that end at a bus and what they carry, rms without the mean; the most first."""
        links = self.soldered.links.items()
        ends = [
            (link, name)
            for name, link in links
            if link.joint is Joint.WIRE
            and bus in (link.a.partition(".")[0], link.b.partition(".")[0])
        ]
        found = [(link.name, rms(self.wired.amperes(name))) for link, name in ends]
        return tuple(sorted(found, key=lambda tap: -tap[1]))

    def _heard(self, output: Output) -> dict[str, Complex]:
        if output not in self._known:
            names = tuple(self.soldered.links)
            self._known[output] = self.wired.heard(names, self.ends(output))
        return self._known[output]

    @functools.cached_property
    def _resistors(self) -> dict[str, Resistor]:
        elements = self.wired.network.circuit.elements
        return {e.name: e for e in elements if isinstance(e, Resistor)}

    def astray(self, output: Output, shared: Share) -> tuple[Link, str, str] | None:
        """The wire whose end is to be moved off a shared conductor: from where, and to where.

        Of the wires at either of its ends the one the output hears best; it carries less than the
        shared one, being a signal's return.  None where a lead is soldered there itself.
        """
        node, link, found = self.soldered.node, shared.link, []
        for other in self.shares(output):
            if other.link.joint is not Joint.WIRE or other.amperes > SPARED * shared.amperes:
                continue
            for here, there in ((link.a, link.b), (link.b, link.a)):
                if node[here] in (node[other.link.a], node[other.link.b]):
                    found.append((other.heard, other.link, here, there))
        best = max(found, key=lambda case: case[0], default=None)
        if best is None or best[0] < SPARED * shared.heard:
            return None
        return best[1:]

    @functools.cached_property
    def returns(self) -> dict[str, tuple[Return, ...]]:
        """Of each amplifying stage, where it comes back to ground."""
        return {stage.name: tuple(self._returns(stage)) for stage in self._stages.amplifying}

    def widest(self) -> tuple[str, Apart] | None:
        """The stage whose signal returns are furthest apart, by name, and which of them."""
        pairs = [
            (stage, pair)
            for stage in self.returns
            for pair in self.apart(stage)
            if pair.a.signal and pair.b.signal
        ]
        return max(pairs, key=lambda case: case[1].volts, default=None)

    def apart(self, stage: str) -> tuple[Apart, ...]:
        """Hum between the returns of a stage, pair by pair, the largest first."""
        found, returns = [], self.returns[stage]
        for at, a in enumerate(returns):
            for b in returns[at + 1 :]:
                volts = self.wired.volts(self._node(a), self._node(b))
                mains, twice = (float(abs(v)) for v in volts[:2])
                found.append(Apart(a, b, rms(volts), mains, twice))
        return tuple(sorted(found, key=lambda pair: -pair.volts))

    def _node(self, spot: Return) -> str:
        return self.soldered.node[spot.point]

    def _returns(self, stage: Stage) -> Iterator[Return]:
        pins = [str(pin) for pin in electrode_pins(stage.part, "cathode", stage.section)]
        earthed = [pin for pin in pins if stage.part.net(pin) in self._ground]
        if earthed:
            yield Return("cathode return", f"{stage.part.ref}.{earthed[0]}")
        else:
            start = min(stage.outputs, default=stage.cathode)
            yield from self._through(start, "cathode return")
        if stage.grid is not None and stage.grid not in self._ground:
            yield from self._through(stage.grid, "grid return")
            yield from self._inputs(stage.grid)
        for feed in self._feeds.every:
            if stage.name in feed.stages:
                for ref in feed.capacitors:
                    if self._ground & set(self._design.parts[ref].ends.values()):
                        yield Return(f"{DECOUPLING} {ref}", self._end(ref))

    def _through(self, net: str, what: str) -> Iterator[Return]:
        """The shortest way from a net to ground through resistors and coils."""

        def passes(section: Section) -> bool:
            return section.body in (Body.RESISTOR, Body.COIL, Body.METAL)

        goals = [goal for goal in self._design.nets if goal in self._ground and goal != METAL]
        ways = [self._schematic.path(net, goal, passes) for goal in goals]
        way = min((way for way in ways if len(way) > 1), key=len, default=())
        if way and isinstance(section := way[-2], Section):
            yield Return(what, self._end(section.part))

    def _inputs(self, grid: str) -> Iterator[Return]:
        """Input connectors that a grid is joined to by resistors."""
        near = self._schematic.reach(grid, lambda s: s.body is Body.RESISTOR, self._ground)
        for part in self._design.of(Connector):
            nets = set(part.ends.values())
            if part.spec.role == "input" and near & nets and self._ground & nets:
                yield Return("input", self._end(part.ref))

    def _end(self, ref: str) -> str:
        """The first terminal of a part that is on ground."""
        ends = self._design.parts[ref].ends
        return next(f"{ref}.{terminal}" for terminal, net in ends.items() if net in self._ground)


def make(
    design: Design,
    schematic: Schematic,
    wiring: Wiring,
    conductors: Conductors,
    stages: Stages,
    feeds: Feeds,
    warm: Warm,
    full: FullDrive,
) -> GroundNetwork:
    """Lazy; NothingToJudge where nothing amplifies."""
    return GroundNetwork(design, schematic, wiring, conductors, stages, feeds, warm, full)
