"""After mains off: how each capacitor discharges in every state that may cut off its bleeder.

Tubes are taken as cold or pulled and rectifiers as open, so only fixed resistances count, and of
those only what is soldered, where the document says what is.  Switches stand in any position, any
fuses on the dc side have blown, and of the chokes and dropping resistors one may be broken; of
all these standings those are tried that a capacitor can tell from one another.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from coldcheck.lint.design import METAL, Design, Use
from coldcheck.lint.facts.cold_start import TOUCH_VOLTS, ColdStart
from coldcheck.lint.facts.discharging import ALIKE, Bench, OffState, opening, written
from coldcheck.lint.facts.live import mains_nets, touched_nets
from coldcheck.lint.facts.realised import Realised
from coldcheck.lint.facts.stacks import Stacks
from coldcheck.lint.facts.standings import Standings
from coldcheck.lint.facts.warm import Warm
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.physics.circuit import Capacitor as Stored
from coldcheck.lint.physics.circuit import Circuit, NotSolved
from coldcheck.lint.physics.floating import Clusters, dc_paths
from coldcheck.schemas.parts import Capacitor, Choke, Fuse, Part, Resistor, Switch

HANDS_IN_VOLTS = 50.0
"""Where designs with too many standings for all of them are tried are slowest: NEC 460.6."""


class Held(NamedTuple):
    """One capacitor and what is left in it."""

    part: Use[Capacitor]
    start: float
    """Volts at mains off: the largest of cold start, warm, and other standings of the switches."""
    states: tuple[OffState, ...]
    """As running first, then by how little differs from that."""
    grounds: frozenset[str]
    rests_on: tuple[Datum, ...]

    @property
    def joules(self) -> float:
        """Energy in it at mains off."""
        return 0.5 * self.part.spec.value * self.start**2

    def slowest(self, volts: float) -> tuple[float, OffState]:
        """The longest time down to ``volts`` over all states, in seconds, and the first state
        that takes it."""
        longest, slowest = -1.0, self.states[0]
        for state in self.states:
            if longest > 0.0 and state.surely_below(self.part.ref, volts, longest):
                continue
            wait = state.seconds_to(self.part.ref, volts)
            if wait > longest * (1.0 + ALIKE):
                longest, slowest = wait, state
        return longest, slowest

    def left(self, seconds: float) -> float:
        """The largest voltage left after a time over all states, in volts."""
        return max(abs(state.volts_at(self.part.ref, seconds)) for state in self.states)

    def farads(self, state: OffState) -> float:
        """Capacitance that discharges with it: the most between any two of its ends and ground."""
        return hanging(state.circuit, self.part.ref, self.grounds)


class OffStates(NamedTuple):
    """Every capacitor with its charge at mains off, but for those made for the mains."""

    capacitors: tuple[Held, ...]
    states: tuple[OffState, ...]
    rests_on: tuple[Datum, ...]


def make(
    design: Design,
    schematic: Schematic,
    cold: ColdStart,
    warm: Warm,
    standings: Standings,
    realised: Realised | None,
    stacks: Stacks,
) -> OffStates:
    """Discharge every capacitor from its highest voltage in every off state.

    Where the wiring is known, a bleeder with an end that is not soldered drains nothing.
    """
    parts = _stores(design, schematic)
    starts = {part.ref: cold.capacitor_volts(part.ref, *_ends(part)) for part in parts}
    shares = {ref: share for stack in stacks.loose for ref, share in stack.shares().items()}
    for stack in stacks.loose:
        # nothing fixes the nets within it: it is charged through, and shares by capacitance
        whole = cold.net_volts(*stack.ends)
        starts |= {part.ref: shares[part.ref] * whole for part in stack.parts}
    data = dict.fromkeys(starts, cold.rests_on)
    try:
        for state in (warm.high, *standings.states):
            for part in parts:
                a, b = _ends(part)
                if part.ref in shares or not (state.has(a) and state.has(b)):
                    continue
                running = state.peak(a, b)
                if abs(running) > abs(starts[part.ref]):
                    starts[part.ref], data[part.ref] = running, state.rests_on
    except (Missing, NotSolved) as trouble:
        # what is charged only once tubes conduct is taken at the most there is
        most = max(starts.values(), key=abs, default=0.0)
        unknown = Datum(f"warm voltages, not computed: {trouble}", Basis.ASSUMED)
        for ref, volts in starts.items():
            if abs(volts) <= TOUCH_VOLTS:
                starts[ref], data[ref] = most, (*cold.rests_on, unknown)
    loose = cold.bleeders & realised.loose if realised is not None else frozenset()
    openings = [opening(part) for part in _may_open(design, schematic)]
    bench = Bench(written(design, loose), openings, starts)
    states = bench.states(
        "mains off", TOUCH_VOLTS, HANDS_IN_VOLTS, [f"{ref} not soldered" for ref in sorted(loose)]
    )
    tried = () if bench.complete else (Datum("the slowest standing, not all tried", Basis.ASSUMED),)
    ground = schematic.ground() | {METAL}
    held = tuple(
        Held(part, starts[part.ref], states, ground, (*data[part.ref], *tried)) for part in parts
    )
    return OffStates(held, states, cold.rests_on)


def _stores(design: Design, schematic: Schematic) -> list[Use[Capacitor]]:
    """Capacitors a rectifier may charge: not those across the mains or from it to earth.

    One end alone on the mains spares none: with neutral for ground every reservoir has that.
    """
    mains = mains_nets(design, schematic)
    own = mains | touched_nets(design, schematic).keys() if mains else mains
    return [
        part
        for part in design.of(Capacitor)
        if len(part.ends) == 2
        and part.spec.safety_class is None
        and not (mains & set(part.ends.values()) and own >= set(part.ends.values()))
    ]


def _ends(part: Use[Capacitor]) -> tuple[str, str]:
    a, b = (part.ends[terminal] for terminal in part.spec.terminals())
    return a, b


def _may_open(design: Design, schematic: Schematic) -> Iterator[Use[Part]]:
    """Switches and fuses of the dc side; chokes, and resistors that feed one smoothed net from
    another."""
    mains = mains_nets(design, schematic)
    for part in (*design.of(Switch), *design.of(Fuse)):
        # with the plug out it makes no difference how the mains side stands
        if not mains & set(part.ends.values()):
            yield part
    ground = schematic.ground()
    smoothed = {
        net
        for part in design.of(Capacitor)
        for net in part.ends.values()
        if net not in ground and ground & set(part.ends.values())
    }
    for part in design.of(Choke, Resistor):
        nets = set(part.ends.values())
        if isinstance(part.spec, Choke) or (len(nets) == 2 and nets <= smoothed):
            yield part


def hanging(circuit: Circuit, capacitor: str, grounds: frozenset[str]) -> float:
    """The largest capacitance between any two of a capacitor's ends and ground, in farads.

    Nets joined by windings and by resistors that neither end on ground nor stand straight across
    a capacitor are one; all grounds are one.  Capacitors in series so count as in series, and a
    coupling capacitor has its reservoir hanging on it.
    """
    stored = [element for element in circuit.elements if isinstance(element, Stored)]
    across = {frozenset((c.a, c.b)) for c in stored}
    joined, islands = Clusters(), Clusters()
    for net in sorted(grounds):
        joined.join(net, circuit.ground)
    for a, b in dc_paths(circuit.elements):
        if not {a, b} & grounds and frozenset((a, b)) not in across:
            joined.join(a, b)
    ends = [(joined.find(c.a), joined.find(c.b), c.farads) for c in stored]
    for a, b, _farads in ends:
        islands.join(a, b)
    (one,) = (c for c in stored if c.name == capacitor)
    a, b, ground = (joined.find(net) for net in (one.a, one.b, circuit.ground))
    most = one.farads
    for near, far in ((a, b), (a, ground), (b, ground)):
        if near == far or islands.find(near) != islands.find(far):
            continue
        nets = {net for pair in ends for net in pair[:2] if islands.find(net) == islands.find(far)}
        order = {net: at for at, net in enumerate(sorted(nets - {far}))}
        farads = np.zeros((len(order) + 1, len(order) + 1))
        for i, j, value in ((order.get(i, -1), order.get(j, -1), value) for i, j, value in ends):
            farads[[i, j], [i, j]] += value
            farads[[i, j], [j, i]] -= value
        charge = np.zeros(len(order))
        charge[order[near]] = 1.0
        most = max(most, 1.0 / float(np.linalg.solve(farads[:-1, :-1], charge)[order[near]]))
    return most
