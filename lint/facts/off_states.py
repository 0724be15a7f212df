"""After mains off: how each capacitor discharges in every state that may cut off its bleeder.

Tubes are taken as cold or pulled and rectifiers as open, so only fixed resistances count, and of
those only what is soldered, where the document says what is.  Every switch position and every blown fuse on the dc side is tried in combination, then each choke and
each dropping resistor is taken out by itself.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple, TypeVar

from coldcheck.lint.design import METAL, Design, Use
from coldcheck.lint.facts.cold_start import TOUCH_VOLTS, ColdStart
from coldcheck.lint.facts.live import mains_nets, touched_nets
from coldcheck.lint.facts.realised import Realised
from coldcheck.lint.facts.warm import Warm
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.netlist import Setting, netlist
from coldcheck.lint.physics.circuit import Capacitor as Stored
from coldcheck.lint.physics.circuit import Circuit, NotSolved
from coldcheck.lint.physics.discharge import Decay, decay
from coldcheck.lint.physics.floating import Clusters, dc_paths
from coldcheck.schemas.parts import Capacitor, Choke, Fuse, Resistor, Switch

# Combinations of switch positions and blown fuses tried in full; beyond this each is tried alone.
MOST_COMBINATIONS = 64

Choice = TypeVar("Choice")


class OffState(NamedTuple):
    """The circuit after mains off, in one standing of switches, fuses and broken parts."""

    name: str
    """ "mains off", "mains off, S2 standby", "mains off, L1 open" """
    decay: Decay
    farads: Mapping[str, float]
    """Capacitance that discharges together with each capacitor, itself included."""


class Held(NamedTuple):
    """One capacitor and what is left in it."""

    part: Use[Capacitor]
    start: float
    """Volts at mains off: the largest of cold start and warm."""
    joules: float
    states: tuple[OffState, ...]
    rests_on: tuple[Datum, ...]

    def slowest(self, volts: float) -> tuple[float, OffState]:
        """The longest time down to ``volts`` over all states, in seconds, and the state."""
        return max(
            ((state.decay.seconds_to(self.part.ref, volts), state) for state in self.states),
            key=lambda pair: pair[0],
        )

    def left(self, seconds: float) -> float:
        """The largest voltage left after a time over all states, in volts."""
        return max(abs(s.decay.volts_at(self.part.ref, seconds)) for s in self.states)


class OffStates(NamedTuple):
    """Every capacitor with its charge at mains off, but for those made for the mains."""

    capacitors: tuple[Held, ...]
    states: tuple[OffState, ...]
    rests_on: tuple[Datum, ...]


def make(
    design: Design, schematic: Schematic, cold: ColdStart, warm: Warm, realised: Realised | None
) -> OffStates:
    """Discharge every capacitor from its highest voltage in every off state.

    Where the wiring is known, a bleeder with an end that is not soldered drains nothing.
    """
    parts = _stores(design, schematic)
    starts = {part.ref: cold.capacitor_volts(part.ref, *_ends(part)) for part in parts}
    data = dict.fromkeys(starts, cold.rests_on)
    try:
        for part in parts:
            running = warm.high.peak(*_ends(part))
            if abs(running) > abs(starts[part.ref]):
                starts[part.ref], data[part.ref] = running, warm.high.rests_on
    except (Missing, NotSolved) as trouble:
        # what is charged only once tubes conduct is taken at the most there is
        most = max(starts.values(), key=abs, default=0.0)
        unknown = Datum(f"warm voltages, not computed: {trouble}", Basis.ASSUMED)
        for ref, volts in starts.items():
            if abs(volts) <= TOUCH_VOLTS:
                starts[ref], data[ref] = most, (*cold.rests_on, unknown)
    loose = cold.bleeders & realised.loose if realised is not None else frozenset()
    states = tuple(_states(design, schematic, starts, loose))
    held = tuple(
        Held(
            part,
            starts[part.ref],
            0.5 * part.spec.value * starts[part.ref] ** 2,
            states,
            data[part.ref],
        )
        for part in parts
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


def _states(
    design: Design, schematic: Schematic, starts: Mapping[str, float], loose: frozenset[str]
) -> Iterator[OffState]:
    mains = mains_nets(design, schematic)
    choices: list[list[tuple[str, str, str]]] = []
    for part in design.of(Switch, Fuse):
        if mains & set(part.ends.values()):
            continue  # with the plug out it makes no difference how the mains side stands
        if isinstance(part.spec, Switch):
            choices.append([(part.ref, position, "") for position in part.spec.positions])
        else:
            choices.append([(part.ref, "", ""), (part.ref, "", "blown")])
    seen: set[tuple[tuple[str, str, str], ...]] = set()
    for standing in standings(choices):
        if standing not in seen:
            seen.add(standing)
            yield _solve(design, schematic, standing, None, starts, loose)
    for ref in _series_parts(design, schematic):
        yield _solve(design, schematic, (), ref, starts, loose)


def standings(choices: Sequence[Sequence[Choice]]) -> Iterator[tuple[Choice, ...]]:
    """One of each choice, in every combination; past the limit, each choice changed alone."""
    if math.prod(len(choice) for choice in choices) <= MOST_COMBINATIONS:
        yield from itertools.product(*choices)
        return
    for at, choice in enumerate(choices):
        for one in choice:
            yield tuple(one if at == other else c[0] for other, c in enumerate(choices))


def _series_parts(design: Design, schematic: Schematic) -> Iterator[str]:
    """Chokes, and resistors that feed one smoothed net from another."""
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
            yield part.ref


def _solve(
    design: Design,
    schematic: Schematic,
    standing: tuple[tuple[str, str, str], ...],
    broken: str | None,
    starts: Mapping[str, float],
    loose: frozenset[str],
) -> OffState:
    positions = {ref: position for ref, position, _blown in standing if position}
    blown = {ref for ref, _position, state in standing if state}
    words = [f"{ref} {position}" for ref, position in positions.items()]
    words += [f"{ref} blown" for ref in sorted(blown)]
    words += [f"{broken} open"] if broken is not None else []
    words += [f"{ref} not soldered" for ref in sorted(loose)]
    gone = loose | blown | ({broken} if broken is not None else set())
    written = netlist(design, Setting(None, positions, gone, tubes=False, loaded=True))
    name = ", ".join(["mains off", *words])
    kept = {e.name for e in written.circuit.elements if isinstance(e, Stored)}
    try:
        solved = decay(
            written.circuit, {ref: volts for ref, volts in starts.items() if ref in kept}
        )
    except NotSolved as trouble:
        raise NotSolved(f"{name}: {trouble}", trouble.nodes, trouble.elements) from None
    return OffState(name, solved, _together(written.circuit, schematic.ground() | {METAL}))


def _together(circuit: Circuit, ground: frozenset[str]) -> dict[str, float]:
    """Farads joined to each capacitor by resistors and windings without going through ground."""
    clusters = Clusters()
    for a, b in dc_paths(circuit.elements):
        if not {a, b} & ground:
            clusters.join(a, b)
    stored = [element for element in circuit.elements if isinstance(element, Stored)]
    sides = {c.name: {clusters.find(n) for n in (c.a, c.b) if n not in ground} for c in stored}
    return {
        one.name: sum(
            other.farads
            for other in stored
            # a capacitor from ground to ground has no side of its own
            if other is one or sides[one.name] & sides[other.name]
        )
        for one in stored
    }
