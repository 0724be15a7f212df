"""The circuit with the mains off: what may open in it, and how it discharges then.

Contacts of all positions of every switch are in it at once; a standing says which are not there.
A capacitor's decay is that of its block alone, which is solved once however many standings leave
that block behind.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from coldcheck.lint.design import Design, PartUse
from coldcheck.lint.graphs.cuts import (
    AS_RUNNING,
    Edge,
    Opening,
    Standing,
    allowed,
    blocks,
    cut,
    farthest_first,
    missing,
    stranded,
)
from coldcheck.lint.netlist import Setting, netlist, running_position
from coldcheck.lint.netlist.elements import Writer
from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Inductor,
    Resistor,
    Transformer,
)
from coldcheck.lint.physics.discharge import Decay, decay
from coldcheck.lint.physics.floating import Clusters
from coldcheck.lint.physics.matrices import SMALLEST_OHMS
from coldcheck.schemas.parts import Fuse, Switch

MOST_BLOCKS = 64
"""Blocks solved; of a design with more only the slowest standings are looked for.  Our choice: a
filter with a standby switch, four fuses and four droppers in a row has fewer."""
ALIKE = 1e-4
"""Times that differ by less are one: contacts and cold fuses are milliohms beside kilohms."""

TwoTerminal = Resistor | Inductor | Capacitor


def opening(part: PartUse) -> Opening:
    """A switch by its positions, a fuse, or any other part that may break."""
    spec = part.spec
    if isinstance(spec, Fuse):
        return Opening(part.ref, "fuse", {"": frozenset(), "blown": frozenset({part.ref})})
    if not isinstance(spec, Switch):
        return Opening(part.ref, "part", {"": frozenset(), "open": frozenset({part.ref})})
    contacts = {
        position: frozenset(f"{part.ref}.{pair}" for pair in pairs)
        for position, pairs in spec.positions.items()
    }
    every = frozenset[str]().union(*contacts.values())
    running = running_position(spec)
    order = sorted(contacts, key=lambda position: position != running)
    return Opening(part.ref, "switch", {position: every - contacts[position] for position in order})


def written(design: Design, gone: frozenset[str]) -> Circuit:
    """The circuit with the mains off and tubes cold, all contacts of all switches in it.

    Without the parts that are ``gone``.  Raises Missing as :func:`netlist`.
    """
    circuit = netlist(design, Setting(None, open_parts=gone, tubes=False)).circuit
    elements = {element.name: element for element in circuit.elements}
    for part in design.of(Switch):
        for position in part.spec.positions if part.ref not in gone else ():
            turned = Writer(design, Setting(None, {part.ref: position}), circuit.ground)
            for contact in turned.switch(part, part.spec):
                elements.setdefault(contact.name, contact)
    return circuit._replace(elements=tuple(elements.values()))


def _two_terminal(circuit: Circuit) -> Iterator[TwoTerminal]:
    """What a discharge sees: coils are the resistance of their wire, sources are not there."""
    for element in circuit.elements:
        match element:
            case Resistor() | Inductor() | Capacitor():
                yield element
            case Transformer(coils=coils):
                for coil in coils:
                    yield Resistor(coil.name, coil.a, coil.b, coil.ohms)
            case _:
                pass


class OffState:
    """The circuit after mains off, in one standing of switches, fuses and broken parts."""

    def __init__(self, name: str, standing: Standing, bench: Bench) -> None:
        self.name = name
        """ "mains off", "mains off, S2 standby", "mains off, L1 open" """
        self.standing = standing
        self._bench = bench

    def seconds_to(self, capacitor: str, volts: float) -> float:
        """As :meth:`Decay.seconds_to`."""
        return self._bench.seconds_to(self.standing, capacitor, volts)

    def surely_below(self, capacitor: str, volts: float, seconds: float) -> bool:
        """As :meth:`Decay.surely_below`."""
        return self._bench.decay(self.standing, capacitor).surely_below(capacitor, volts, seconds)

    def volts_at(self, capacitor: str, seconds: float) -> float:
        """As :meth:`Decay.volts_at`."""
        return self._bench.decay(self.standing, capacitor).volts_at(capacitor, seconds)

    @property
    def circuit(self) -> Circuit:
        """Resistors, coils as the resistance of their wire, and capacitors left in it."""
        return self._bench.circuit(self.standing)


class Bench:
    """A circuit with its charge at mains off, on which standings are tried."""

    def __init__(
        self, circuit: Circuit, openings: Iterable[Opening], volts: Mapping[str, float]
    ) -> None:
        self._ground = circuit.ground
        self._elements = {element.name: element for element in _two_terminal(circuit)}
        self._edges = [Edge(e.name, e.a, e.b) for e in self._elements.values()]
        self._stores = frozenset(n for n, e in self._elements.items() if isinstance(e, Capacitor))
        self._volts = {ref: v for ref, v in volts.items() if ref in self._stores}
        self._openings = [o for o in openings if not o.edges.isdisjoint(self._elements)]
        self._gone: dict[frozenset[tuple[str, str]], frozenset[str]] = {}
        self._blocks: dict[frozenset[str], dict[str, frozenset[str]]] = {}
        self._rough: dict[frozenset[str], Mapping[str, float]] = {}
        self._solved: dict[frozenset[str], Decay] = {}
        self._seconds: dict[tuple[str, frozenset[str], float], float] = {}
        self.complete = True
        """Whether every standing that any capacitor can tell from others is among the states."""

    def states(
        self, start: str, least: float, hands_in: float, words: Sequence[str] = ()
    ) -> tuple[OffState, ...]:
        """As running, then every standing that makes a difference, those of few changes first.

        A block that cannot have ``least`` volts in it is left as it is.  Names begin with
        ``start`` and end with ``words``.  Past MOST_BLOCKS blocks what is kept is every single
        change, and for each capacitor the standing slowest to ``hands_in`` volts: looked for
        from least cuts and from the slowest block solved, one change at a time.
        """
        found = cut(self._edges, self._openings, self._volts, least, MOST_BLOCKS)
        self.complete = found.all
        kept = {_key(standing): standing for standing in found.standings}
        if not found.all:
            kept = {key: standing for key, standing in kept.items() if len(standing) == 1}
            for store in (ref for ref, v in self._volts.items() if abs(v) > least):
                standing = self._slowest(store, found.standings, hands_in)
                kept.setdefault(_key(standing), standing)
        kept.pop(_key(AS_RUNNING), None)
        turned = {name for standing in kept.values() for name in standing}
        return tuple(
            OffState(", ".join([start, *self._named(standing, turned), *words]), standing, self)
            for standing in (AS_RUNNING, *sorted(kept.values(), key=len))
        )

    def _named(self, standing: Standing, turned: set[str]) -> Iterator[str]:
        """Every switch that makes a difference with its position, and all else that has changed."""
        for each in self._openings:
            if each.name in standing or (each.kind == "switch" and each.name in turned):
                yield f"{each.name} {standing.get(each.name, each.running)}"

    def _slowest(self, store: str, tried: Iterable[Standing], volts: float) -> Standing:
        """The slowest of standings tried, of least cuts, and of what changes lead to from there
        and from as running: what is far first, before the capacitor is cut off from it."""

        def lasts(standing: Standing) -> float:
            return self.seconds_to(standing, store, volts)

        def roughly(standing: Standing) -> float:
            return self._constants(standing)[store]

        cuts = stranded(self._edges, self._openings, self._stores, store)
        best = max((*tried, *cuts), key=lasts, default=AS_RUNNING)
        order = farthest_first(self._edges, self._openings, store, self._ground)
        tops = [self._uphill(start, order, roughly) for start in (best, AS_RUNNING)]
        return max((best, *tops), key=lasts)

    def _constants(self, standing: Standing) -> Mapping[str, float]:
        """Farads over siemens of what hangs together with each capacitor, in seconds.

        As if all that joins two nets other than ground had no resistance.
        """
        gone = self._missing(standing)
        if gone not in self._rough:
            left = [e for n, e in self._elements.items() if n not in gone]
            joined = Clusters()
            for e in left:
                if not isinstance(e, Capacitor) and self._ground not in (e.a, e.b):
                    joined.join(e.a, e.b)
            farads: dict[str, float] = {}
            siemens: dict[str, float] = {}
            for e in left:
                for net in {joined.find(net) for net in (e.a, e.b) if net != self._ground}:
                    if isinstance(e, Capacitor):
                        farads[net] = farads.get(net, 0.0) + e.farads
                    elif self._ground in (e.a, e.b):
                        siemens[net] = siemens.get(net, 0.0) + 1.0 / max(e.ohms, SMALLEST_OHMS)
            self._rough[gone] = {
                e.name: max(
                    farads[net] / siemens[net] if net in siemens else math.inf
                    for net in (joined.find(e.a), joined.find(e.b))
                    if net in farads
                )
                for e in left
                if isinstance(e, Capacitor) and e.a != e.b
            }
        return self._rough[gone]

    def _uphill(
        self, best: Standing, order: Sequence[Opening], lasts: Callable[[Standing], float]
    ) -> Standing:
        """Where no one change makes it last longer any more; after each, from the first again."""
        changes = [(each, choice) for each in order for choice in each.choices]
        longest, at = lasts(best), 0
        while at < len(changes) and longest < math.inf:
            each, choice = changes[at]
            at += 1
            changed = {name: stands for name, stands in best.items() if name != each.name}
            if choice != each.running:
                changed[each.name] = choice
            if allowed(self._openings, changed):
                seconds = lasts(changed)
                if seconds > longest * (1.0 + ALIKE):
                    best, longest, at = changed, seconds, 0
        return best

    def circuit(self, standing: Standing) -> Circuit:
        """What is left in a standing."""
        gone = self._missing(standing)
        return Circuit(tuple(e for n, e in self._elements.items() if n not in gone), self._ground)

    def seconds_to(self, standing: Standing, store: str, volts: float) -> float:
        """As :meth:`Decay.seconds_to`, each block and voltage once."""
        key = store, self._block(standing, store), volts
        if key not in self._seconds:
            self._seconds[key] = self.decay(standing, store).seconds_to(store, volts)
        return self._seconds[key]

    def decay(self, standing: Standing, store: str) -> Decay:
        """The decay of the block a capacitor is in."""
        block = self._block(standing, store)
        if block not in self._solved:
            kept = tuple(e for n, e in self._elements.items() if n in block)
            volts = {ref: v for ref, v in self._volts.items() if ref in block}
            self._solved[block] = decay(Circuit(kept, self._ground), volts)
        return self._solved[block]

    def _missing(self, standing: Standing) -> frozenset[str]:
        """As :func:`missing`, each standing once."""
        key = _key(standing)
        if key not in self._gone:
            self._gone[key] = missing(self._openings, standing)
        return self._gone[key]

    def _block(self, standing: Standing, store: str) -> frozenset[str]:
        gone = self._missing(standing)
        if gone not in self._blocks:
            found: dict[str, frozenset[str]] = {}
            for block in blocks(e for e in self._edges if e.name not in gone):
                names = frozenset(e.name for e in block)
                found |= dict.fromkeys(names & self._stores, names)
            self._blocks[gone] = found
        # one with both ends on one node is in no block
        return self._blocks[gone].get(store, frozenset((store,)))


def _key(standing: Standing) -> frozenset[tuple[str, str]]:
    return frozenset(standing.items())
