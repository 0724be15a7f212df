"""Feeds: the smoothed supply node that each plate and screen draws its current from."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from typing import NamedTuple

from coldcheck.lint.design import Design
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import NothingToJudge
from coldcheck.lint.physics.circuit import Coil, Inductor, Resistor, Transformer
from coldcheck.schemas.parts import Capacitor

SMOOTHING_FARADS = 1e-6
"""Least capacitance to ground of a node that counts as smoothed; our choice."""
STEPS = 12
"""Most parts in a row from an electrode to its feed; our choice."""


class Feed(NamedTuple):
    """A supply node with what it feeds; ``capacitors`` to ground make it smooth."""

    net: str
    capacitors: tuple[str, ...]
    farads: float
    stages: tuple[str, ...]
    """Tube sections whose plate or screen it feeds, in order of reference."""


class Feeds:
    """Every smoothed node that a tube is fed from, the heaviest loaded first."""

    def __init__(self, design: Design, ground: frozenset[str], stages: Stages, warm: Warm) -> None:
        self.smoothed: dict[str, tuple[str, ...]] = {}
        """Capacitors to ground of every net that has enough of them, the bias supply's too."""
        self._farads: dict[str, float] = {}
        for net, refs in _to_ground(design, ground).items():
            farads = sum(refs.values())
            if farads >= SMOOTHING_FARADS:
                self.smoothed[net] = tuple(refs)
                self._farads[net] = farads
        self._stages, self._warm = stages, warm

    @functools.cached_property
    def every(self) -> tuple[Feed, ...]:
        """Traced against the current in the warm state; raises what solving it raises."""
        state = self._warm.nominal
        ways, drawn = list(_ways(state)), dict[str, float]()
        fed: dict[str, dict[str, None]] = {}
        for stage in self._stages.amplifying:
            for net in dict.fromkeys((stage.plate, stage.screen or stage.plate)):
                source = self._upstream(net, ways)
                if source is not None:
                    fed.setdefault(source, {})[stage.name] = None
                    drawn[source] = drawn.get(source, 0.0) + state.cathode_amperes(stage.name)
        order = sorted(fed, key=lambda net: (-drawn[net], net))
        return tuple(
            Feed(net, self.smoothed[net], self._farads[net], tuple(fed[net])) for net in order
        )

    def _upstream(self, net: str, ways: list[tuple[str, str, float]]) -> str | None:
        """The first smoothed net, from an electrode on against the current."""
        for _ in range(STEPS):
            if net in self.smoothed:
                return net
            into = [(amperes, source) for source, to, amperes in ways if to == net]
            if not into:
                return None
            net = max(into)[1]
        return None


def _to_ground(design: Design, ground: frozenset[str]) -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for part in design.of(Capacitor):
        nets = set(part.ends.values())
        if len(nets) == 2 and len(nets - ground) == 1:
            found.setdefault((nets - ground).pop(), {})[part.ref] = part.spec.value
    return found


def _ways(state: State) -> Iterator[tuple[str, str, float]]:
    """Resistors, chokes and coils with the mean current they carry from the first net to the other."""
    pieces: list[Resistor | Inductor | Coil] = []
    for element in state.netlist.circuit.elements:
        if isinstance(element, Resistor | Inductor):
            pieces.append(element)
        elif isinstance(element, Transformer) and element.magnetising is not None:
            pieces += element.coils
    for piece in pieces:
        amperes = state.mean_amperes(piece.name)
        a, b = (piece.a, piece.b) if amperes > 0.0 else (piece.b, piece.a)
        yield a, b, abs(amperes)


def make(design: Design, schematic: Schematic, stages: Stages, warm: Warm) -> Feeds:
    """Lazy: the warm state is solved when feeds are traced; NothingToJudge where nothing amplifies."""
    if not stages.amplifying:
        raise NothingToJudge("nothing in it amplifies")
    return Feeds(design, schematic.ground() | {schematic.metal}, stages, warm)
