"""Warming up: heaters come up together, and cathodes give a growing share of their emission.

A sequence of steady states: a supply filter settles in tenths of a second, a heater in ten seconds,
so that at every moment the circuit has settled to what the cathodes give (our choice).  What is
heated indirectly, rectifiers too, gives the same share at a time; silicon and filaments give
all of theirs from the first.  In the states no time is told, for heaters differ: only the share.
"""

from __future__ import annotations

import functools

from coldcheck.lint.design import Design
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import ENOUGH, State, Warm, solve
from coldcheck.lint.graphs.schematic import Body, Schematic
from coldcheck.lint.netlist import Setting

SHARES = (0.02, 0.1, 0.3, 0.6)
"""Shares of the full emission looked at, before the whole of it; our choice, about even in what
tubes behind resistors draw."""


class WarmUp:
    """The states on the way to warm, with the mains at its highest."""

    def __init__(self, design: Design, schematic: Schematic, stages: Stages, warm: Warm) -> None:
        self._design = design
        self._schematic = schematic
        self._stages = stages
        self._warm = warm

    @functools.cached_property
    def states(self) -> tuple[State, ...]:
        """From the first glimmer to the warm state, which is the last of them.

        Named "2 % of emission, mains high".  Solved from warm backward, each from its neighbour.
        """
        states = [self._warm.high]
        for share in reversed(SHARES):
            name = f"{share:.0%} of emission, mains high".replace("%", " %")
            setting = Setting(self._warm.mains["high"], emission=share)
            states.append(solve(self._design, name, setting, states[-1], ENOUGH))
        return tuple(reversed(states))

    def highest(self, net: str, other: str) -> tuple[float, State]:
        """The voltage of largest magnitude between two nets on the way, with its sign, and when."""
        cases = [(state.peak(net, other), state) for state in self.states]
        most = cases[-1]
        for case in reversed(cases):  # of voltages alike but for rounding the warm one
            if abs(case[0]) > abs(most[0]) * (1.0 + 1e-6) + 1e-9:
                most = case
        return most

    def slow(self, net: str) -> bool:
        """Whether a net is fed by indirectly heated rectifiers alone, which warm with their load.

        Such a net is spared the full peak at switch-on, though not when tubes are pulled.
        """
        held = self._schematic.held(net)
        feeds = [
            stage.part.tube is not None and not stage.part.tube.directly_heated
            for stage in self._stages.rectifiers
            if stage.outputs & held
        ]
        wound = self._schematic.wound - held
        feeds += [
            False  # silicon, there from the first
            for section in self._schematic.sections.values()
            if section.body is Body.DIODE and held & {*section.nets} and wound & {*section.nets}
        ]
        return bool(feeds) and all(feeds)


def make(design: Design, schematic: Schematic, stages: Stages, warm: Warm) -> WarmUp:
    """Lazy: nothing is solved until the states are asked for."""
    return WarmUp(design, schematic, stages, warm)
