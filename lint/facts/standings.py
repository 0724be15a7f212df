"""Standings: every other way the switches may stand while the mains is on and the tubes are hot.

Standby, low power, triode instead of pentode.  Switches on the mains side stay as they run: with
one off there is nothing to solve, and a voltage selector is set to the site's mains.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.live import mains_nets
from coldcheck.lint.facts.warm import State, Warm, solve
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Basis, Datum
from coldcheck.lint.netlist import Setting, running_position
from coldcheck.schemas.parts import Switch

MOST_SOLVED = 12
"""Standings solved in full combination; beyond this each switch is turned alone.  Our choice:
three switches of two positions and one of three are within it but for one."""
STILL_VOLTS = 1.0
STILL_AMPERES = 1e-5
"""A switch that sees less in every contact moves signals only, and no state depends on it; our
choice."""


class Standings:
    """The warm state at mains high in each standing of the switches but the running one."""

    def __init__(self, design: Design, mains: frozenset[str], warm: Warm) -> None:
        self._design = design
        self._mains = mains
        self._warm = warm

    @functools.cached_property
    def states(self) -> tuple[State, ...]:
        """In order of switches and positions; empty where no switch makes a difference.

        Each is named by the switches that stand otherwise: "S2 standby, mains high".
        """
        switches = [part for part in self._design.of(Switch) if self._matters(part)]
        choices = [list(part.spec.positions) for part in switches]
        running = [running_position(part.spec) for part in switches]
        alone = math.prod(map(len, choices)) > MOST_SOLVED + 1
        refs = [part.ref for part in switches]
        left_out = (Datum(f"{' and '.join(refs)} turned one at a time", Basis.ASSUMED),)
        states = []
        for standing in _each_alone(choices, running) if alone else itertools.product(*choices):
            turned = {
                ref: position
                for ref, position, usual in zip(refs, standing, running, strict=True)
                if position != usual
            }
            if turned:
                states.append(self._solve(turned, left_out if alone else ()))
        return tuple(states)

    def _solve(self, turned: Mapping[str, str], left_out: tuple[Datum, ...]) -> State:
        words = [f"{ref} {position}" for ref, position in turned.items()]
        setting = Setting(self._warm.mains["high"], turned)
        state = solve(self._design, ", ".join([*words, "mains high"]), setting, self._warm.high)
        return State(
            state.name, state.netlist._replace(data=state.rests_on + left_out), state.solved
        )

    def _matters(self, part: Use[Switch]) -> bool:
        """Whether a switch has anything steady on it, and is not the mains's own."""
        nets, state = set(part.ends.values()), self._warm.high
        if nets & self._mains or len(part.spec.positions) < 2:
            return False
        pairs = {f"{part.ref}.{pair}" for joined in part.spec.positions.values() for pair in joined}
        ground = state.netlist.circuit.ground
        return any(
            abs(state.peak(net, ground)) > STILL_VOLTS for net in nets if state.has(net)
        ) or any(state.rms_amperes(pair) > STILL_AMPERES for pair in pairs if state.knows(pair))


def _each_alone(
    choices: Sequence[Sequence[str]], running: Sequence[str]
) -> Iterator[tuple[str, ...]]:
    for at, positions in enumerate(choices):
        for position in positions:
            yield (*running[:at], position, *running[at + 1 :])


def make(design: Design, schematic: Schematic, warm: Warm) -> Standings:
    """Lazy: nothing is solved until the states are asked for."""
    return Standings(design, mains_nets(design, schematic), warm)
