"""Conductors: what each wire and flying lead carries, stands at, and loses on its way.

The solved state knows nets, the wiring graph knows how a net is soldered; together they say what
flows where.  The current of a part goes to the terminal it is of; a wire that is the only way
between two halves of its net carries what the terminals beyond it take, moment by moment.  A wire in
a closed ring may carry anything up to half of all that enters and leaves the net, and is given that.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.design import METAL, Design, PartUse
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.places import place_of
from coldcheck.lint.facts.ratings import RISE_INSIDE
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.states import States, Worst
from coldcheck.lint.facts.warm import State
from coldcheck.lint.graphs.schematic import HEATED, Schematic, electrode_pins
from coldcheck.lint.graphs.wiring import Joint, Link, Wiring
from coldcheck.lint.model import Basis, Datum, Missing, Subject
from coldcheck.lint.physics.circuit import (
    Bipolar,
    Element,
    Mosfet,
    Pentode,
    Regulator,
    Transformer,
    Triode,
    TubeDiode,
)
from coldcheck.lint.physics.floating import terminals
from coldcheck.schemas.build import WireType
from coldcheck.schemas.parts import ChassisBond, Wound
from coldcheck.schemas.reference import wire_resistance

Array = NDArray[np.float64]


class Conductor(NamedTuple):
    """A wire, or one flying lead of a wound part."""

    name: str
    """As a reader would say it: "W7", "the heater.1 lead of T1"."""
    subject: Subject
    sort: str | None
    """Which wire type it is, by its name in [wire_types]; None where nothing is said."""
    kind: WireType | None
    points: tuple[str, ...]
    """Tie points it joins; of a lead its own terminal."""
    twin: str | None
    """The wire it is twisted with."""
    length: float | None
    """Metres, as stated."""


class Conductors:
    """Every wire and flying lead of a design, in order."""

    def __init__(
        self,
        design: Design,
        wiring: Wiring,
        states: States,
        cold: ColdStart,
        stages: Stages,
        schematic: Schematic,
    ) -> None:
        self._design = design
        self._wiring = wiring
        self._states = states
        self._cold = cold
        self._same = schematic.same_potential()
        self._amplifies = bool(stages.amplifying)
        self._flows: dict[State, Mapping[str, Array]] = {}
        self._spans: dict[State, Mapping[str, float]] = {}
        self._sums: dict[tuple[str, ...], tuple[Array, Array]] = {}
        self._pins: dict[tuple[str, str, str], str | None] = {}
        self._volts: dict[tuple[frozenset[str], str | None], Worst | None] = {}
        self._groups = {point: group for group in wiring.joined() for point in group}
        self.all = tuple(_conductors(design))

    @property
    def rests_on(self) -> tuple[Datum, ...]:
        """What is left out where an amplifier's full drive could not be computed."""
        known = self._states.driven or not self._amplifies
        return () if known else (Datum("idle alone, full drive not known", Basis.ASSUMED),)

    def nets(self, points: Sequence[str]) -> frozenset[str]:
        """Nets of the terminals that are one conductor with any of the points."""
        return frozenset[str]().union(*(self._nets.get(p, frozenset()) for p in points))

    @functools.cached_property
    def _nets(self) -> Mapping[str, frozenset[str]]:
        """The same of each tie point."""
        found: dict[str, frozenset[str]] = {}
        for group in set(self._groups.values()):
            nets = {METAL} & group
            for point in group:
                ref, _dot, terminal = point.partition(".")
                part = self._design.parts.get(ref)
                net = part.net(terminal) if part is not None else None
                nets |= {net} if net is not None else set()
            found |= dict.fromkeys(group, frozenset(nets))
        return found

    def mixed(self, points: Sequence[str]) -> bool:
        """Whether the wiring joins nets there that are not one: no state tells what that makes."""
        return len({self._same[n] for n in self.nets(points) if n in self._same}) > 1

    def volts(self, conductor: Conductor) -> tuple[Worst, str] | None:
        """Largest rms voltage to the chassis or to its twin, and which of the two.

        rms over a cycle is the dc where there is no more than ripple on it, and what the ratings
        of wire are in (UL 758: volts ac rms).  None where no state knows the net, or it is mixed.
        """
        if self.mixed(conductor.points):
            return None
        wire = self._design.wires.get(conductor.twin or "")
        mine, partner = self.nets(conductor.points), self.nets(wire.run if wire is not None else ())
        cases = [self._apart(mine, None)]
        cases += [self._apart(mine, net) for net in sorted(partner)]
        words = ["the chassis", *[f"its twin {conductor.twin}"] * len(partner)]
        return _most([(c, w) for c, w in zip(cases, words, strict=True) if c is not None])

    def between(self, point: str, other: str) -> Worst | None:
        """Largest rms voltage between two tie points; None where a net is not known, or mixed."""
        if self.mixed((point,)) or self.mixed((other,)):
            return None
        far = self.nets((other,)) or frozenset({other} & {METAL})
        cases = [self._apart(self.nets((point,)), net) for net in sorted(far)]
        most = _most([(case, "") for case in cases if case is not None])
        return most[0] if most is not None else None

    def _apart(self, nets: frozenset[str], other: str | None) -> Worst | None:
        """Largest rms voltage of the nets over another one, or over the chassis."""
        if (nets, other) not in self._volts:
            found: list[tuple[Worst, str]] = []
            for state in (*self._states.lasting, self._cold.steady):
                far = other or state.netlist.circuit.ground
                found += [
                    (Worst(state.rms(net, far), state.name, state.rests_on), "")
                    for net in sorted(nets)
                    if state.has(net) and state.has(far)
                ]
            most = _most(found)
            self._volts[nets, other] = most[0] if most is not None else None
        return self._volts[nets, other]

    def amperes(self, conductor: Conductor) -> tuple[Worst, str] | None:
        """Largest rms current in any span of a wire, and between which points; None as above."""
        cases: list[tuple[Worst, str]] = []
        for state in self._states.lasting:
            for words, current in self._currents(conductor, state):
                cases.append((Worst(current, state.name, state.rests_on), words))
        return _most(cases)

    def through(self, contact: str) -> Worst | None:
        """Largest rms current of a connector's contact; None where none is known.

        What it is known to take, as with a loudspeaker on it; else that of the wires that end at
        it: two chassis on one plug are one circuit, and its pins tie points along the way.
        """
        ends = [k for ks in self._links.values() for k in ks if contact in (k.a, k.b)]
        cases: list[tuple[Worst, str]] = []
        for state in self._states.lasting if not self.mixed((contact,)) else ():
            own = self.flows(state).get(contact)
            known = [self._span(state, end) for end in ends] if own is None else [float(_rms(own))]
            cases += [(Worst(amperes, state.name, state.rests_on), "") for amperes in known]
        most = _most(cases)
        return most[0] if most is not None else None

    def _currents(self, conductor: Conductor, state: State) -> Iterator[tuple[str, float]]:
        if self.mixed(conductor.points):
            return
        if len(conductor.points) == 1:
            flow = self.flows(state).get(conductor.points[0])
            if flow is not None:
                yield "", float(_rms(flow))
            return
        for link in self._links.get(conductor.subject.name, ()):
            yield f"{link.a} to {link.b}", self._span(state, link)

    @functools.cached_property
    def _links(self) -> Mapping[str, tuple[Link, ...]]:
        found: dict[str, list[Link]] = {}
        for link in self._wiring.links:
            if link.wire is not None and link.joint is Joint.WIRE:
                found.setdefault(link.wire.ref, []).append(link)
        return {ref: tuple(links) for ref, links in found.items()}

    @functools.cached_property
    def _far(self) -> Mapping[str, frozenset[str] | None]:
        """By span, the tie points that it alone joins to the rest; None where it closes a ring."""
        links = (link for links in self._links.values() for link in links)
        return {link.name: self._beyond(link) for link in links}

    def _beyond(self, link: Link) -> frozenset[str] | None:
        reached = self._wiring.reach(link.b, lambda other: other.name != link.name)
        return None if link.a in reached else frozenset(reached)

    def _span(self, state: State, link: Link) -> float:
        """rms current of a span, in amperes."""
        if state not in self._spans:
            flows = self.flows(state)
            points = tuple(flows)
            if points not in self._sums:
                self._sums[points] = self._added(points)
            through, around = self._sums[points]
            waves = np.array(list(flows.values())).reshape(len(points), -1)
            rms = _rms(through @ waves) + 0.5 * _rms(around @ np.abs(waves))
            self._spans[state] = dict(zip(self._far, rms.tolist(), strict=True))
        return self._spans[state][link.name]

    def _added(self, points: Sequence[str]) -> tuple[Array, Array]:
        """Which terminals' flows add up in each span, (spans, points): in one, or round a ring."""
        through, around = np.zeros((2, len(self._far), len(points)))
        links = (link for links in self._links.values() for link in links)
        for row, link in enumerate(links):
            far = self._far[link.name]
            sums, of = (around, self._groups[link.a]) if far is None else (through, far)
            sums[row] = [point in of for point in points]
        return through, around

    def flows(self, state: State) -> Mapping[str, Array]:
        """Current out of the wiring into each terminal, in amperes (samples,), by tie point."""
        if state not in self._flows:
            found: dict[str, Array] = {}
            for element in state.netlist.circuit.elements:
                for point, flow in self._taken(state, element):
                    found[point] = found[point] + flow if point in found else flow
            self._flows[state] = found
        return self._flows[state]

    def _taken(self, state: State, element: Element) -> Iterator[tuple[str, Array]]:
        part = self._design.parts.get(re.split(r"[. ]", element.name)[0])
        if part is None or isinstance(part.spec, ChassisBond):
            return  # a bond is a conductor, and in the wiring already
        for name, net, flow, electrode in _ends(state, element):
            key = name, net, electrode
            if key not in self._pins:
                self._pins[key] = _terminal(part, *key)
            if (pin := self._pins[key]) is not None:
                yield f"{part.ref}.{pin}", flow

    def lost(self, state: State, point: str) -> float:
        """Volts rms lost in the wires between where a net is fed and a tie point of it.

        It is fed where the most comes in or goes out, by rms.  Copper is as warm as the air inside;
        flying leads and joints resist nothing.  Raises Missing for a wire without a length.
        """
        flows = self.flows(state)
        ends = sorted(p for p in self._groups.get(point, ()) if p in flows)
        if not ends:
            return 0.0
        feed = max(ends, key=lambda end: float(_rms(flows[end])))
        way = self._wiring.reach(feed, lambda link: True).get(point, ())
        return sum(
            self._span(state, link) * self.ohms(link) for link in way if link.wire is not None
        )

    def ohms(self, link: Link) -> float:
        """Resistance of one span: the wire's length goes by the distances, else even shares."""
        wire = link.wire
        assert wire is not None
        if wire.spec.length is None:
            raise Missing(f"the length of {wire.ref}", (*wire.path, "length"), wire.subject)
        spans = [_distance(self._design, other) for other in self._links[wire.ref]]
        total = sum(spans)
        mine = [other.name for other in self._links[wire.ref]].index(link.name)
        share = spans[mine] / total if total > 0.0 else 1.0 / len(spans)
        celsius = self._design.document.site.ambient + RISE_INSIDE
        return wire.spec.length * share * wire_resistance(wire.type.size, celsius)


def _conductors(design: Design) -> Iterator[Conductor]:
    for wire in design.wires.values():
        yield Conductor(
            wire.ref,
            wire.subject,
            wire.spec.type,
            wire.type,
            wire.run,
            wire.twist,
            wire.spec.length,
        )
    for part in design.of(Wound):
        for terminal in part.leads:
            sort = part.spec.lead
            kind = design.document.wire_types.get(sort or "")
            name = f"the {terminal} lead of {part.ref}"
            point = (f"{part.ref}.{terminal}",)
            yield Conductor(name, part.subject, sort, kind, point, None, None)


def _ends(state: State, element: Element) -> Iterator[tuple[str, str, Array, str]]:
    """What an element takes out of each of its nodes: name, node, amperes, tube electrode."""
    solved, name = state.solved, element.name
    match element:
        case Triode() | Pentode():
            taken = [(element.plate, solved.amperes(name), "plate")]
            taken.append((element.grid, solved.grid_amperes(name), "grid"))
            if isinstance(element, Pentode):
                taken.append((element.screen, solved.screen_amperes(name), "screen"))
            for node, flow, electrode in taken:
                yield name, node, flow, electrode
            yield name, element.cathode, -np.sum([f for _n, f, _e in taken], axis=0), "cathode"
        case TubeDiode():
            flow = solved.amperes(name)
            yield name, element.anode, flow, "plate"
            yield name, element.cathode, -flow, "cathode"
        case Bipolar() | Mosfet() | Regulator():
            for node, flow in zip(terminals(element), solved.terminal_amperes(name), strict=True):
                yield name, node, flow, ""
        case Transformer(coils=coils):
            for coil in coils:
                flow = solved.amperes(coil.name)
                yield coil.name, coil.a, flow, ""
                yield coil.name, coil.b, -flow, ""
        case _:
            flow = solved.amperes(name)
            a, b = terminals(element)[:2]
            yield name, a, flow, ""
            yield name, b, -flow, ""


def _terminal(part: PartUse, element: str, net: str, electrode: str) -> str | None:
    """The terminal of a part on a net that an element's current goes through.

    Of several on one net the one the element's name speaks of: "T1.ht.2", "S1.1-2", "V1.heater.1".
    """
    own = [terminal for terminal, here in part.ends.items() if here == net]
    if len(own) < 2 or part.tube is None:
        words = re.split(r"[.-]", element)[1:]
        named = [t for t in own if any(word in words for word in t.split("."))]
        return next(iter(named or own), None)
    number = re.search(r"\.(\d)(?: |$)", element)
    section = int(number.group(1)) if number is not None else 1
    if electrode:
        pins = [str(pin) for pin in electrode_pins(part, electrode, section)]
    else:
        heated = [pin for pin, e in sorted(part.tube.pins.items()) if e in HEATED]
        # the halves run from the first pin to the tap, and from the tap to the last
        pins = [str(pin) for pin in heated] if section == 1 else [str(p) for p in reversed(heated)]
    return next((pin for pin in pins if pin in own), own[0])


def _distance(design: Design, link: Link) -> float:
    """Metres in a straight line between the ends of a span; 0 where one is not placed."""
    a, b = place_of(design, link.a), place_of(design, link.b)
    return math.dist(a, b) if a is not None and b is not None else 0.0


def _rms(waves: Array) -> Array:
    return np.asarray(np.sqrt(np.mean(np.square(waves), axis=-1)))


def _most(cases: list[tuple[Worst, str]]) -> tuple[Worst, str] | None:
    """The largest; of figures alike but for rounding the first."""
    most = None
    for case in cases:
        if most is None or case[0].value > most[0].value * (1.0 + 1e-6) + 1e-9:
            most = case
    return most


def make(
    design: Design,
    wiring: Wiring,
    states: States,
    cold: ColdStart,
    stages: Stages,
    schematic: Schematic,
) -> Conductors:
    """Lazy: no state is asked for until a figure is."""
    return Conductors(design, wiring, states, cold, stages, schematic)
