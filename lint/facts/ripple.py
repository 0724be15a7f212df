"""Ripple: what of the supply's ripple is left at the outputs, and the node it comes by."""

from __future__ import annotations

import numpy as np

from coldcheck.lint.facts.feeds import Feeds
from coldcheck.lint.facts.full_drive import FullDrive, Output
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.physics.stability import left_without

HALF = 0.5
"""A node counts as the way when with it held still no more than this share is left; our choice."""


class Ripple:
    """Supply ripple with the mains nominal and no signal: tubes as their slopes."""

    def __init__(self, warm: Warm, full: FullDrive, feeds: Feeds) -> None:
        self._warm = warm
        self._smoothed = feeds.smoothed
        self._outputs = full.outputs
        self.rests_on = full.rests_on

    @property
    def outputs(self) -> tuple[Output, ...]:
        """Those that something is connected to; a loose one hums by nothing that is drawn."""
        state = self.state
        return tuple(out for out in self._outputs if state.has(out.a) and state.has(out.b))

    @property
    def state(self) -> State:
        return self._warm.nominal

    def volts(self, output: Output) -> float:
        """rms at an output, in volts, its mean left out."""
        return float(np.std(self.state.between(output.a, output.b)))

    def way(self, output: Output) -> tuple[str, float] | None:
        """The smoothed node nearest to the output by which most of it comes, and what is left of it
        with that node held still; None when no node brings half.

        Of a row of nodes one behind the other each brings all: the one that ripples least is the
        last of them.
        """
        state, ends = self.state, (output.a, output.b)
        nodes = [net for net in self._smoothed if state.has(net)]
        left = {net: left_without(state.solved, net, ends) for net in nodes}
        ways = [net for net in nodes if left[net] <= HALF]
        if not ways:
            return None
        net = min(ways, key=lambda net: (state.ripple(net), net))
        return net, left[net]

    def capacitors(self, net: str) -> tuple[str, ...]:
        """References of the capacitors that smooth a node."""
        return self._smoothed[net]


def make(warm: Warm, full: FullDrive, feeds: Feeds) -> Ripple:
    """Lazy: the warm state is solved when a figure is asked for."""
    return Ripple(warm, full, feeds)
