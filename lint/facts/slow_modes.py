"""Slow modes: what of the warm circuit swings by itself, and through which supply node."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from typing import NamedTuple

from coldcheck.lint.design import Design
from coldcheck.lint.facts.feeds import Feed, Feeds
from coldcheck.lint.facts.signal import Signal
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.model import Datum
from coldcheck.lint.physics.stability import HELD, Mode, modes
from coldcheck.schemas.parts import Choke

SLOW_HERTZ = 20.0
"""Below what is heard as a tone, and well below the mains, where the computation holds."""
DAMPED = 0.1
"""Least damping ratio that is taken for quiet: Q of 5, a swing that dies to a fifth in about two
and a half turns; our choice."""
TIMES = (2.0, 4.0, 8.0, 16.0)
"""Larger capacitors that are tried as a cure."""


class Swing(NamedTuple):
    """A slow motion that is badly damped, or grows."""

    mode: Mode
    feed: Feed | None
    """The supply node it goes through; None when it is left with all of them held still."""
    times: float | None
    """How much larger that node's capacitors must be to damp it; None: 16 times is not enough."""


class SlowModes:
    """Natural motions with the mains nominal, the controls midway; found when first asked for."""

    def __init__(
        self, design: Design, warm: Warm, feeds: Feeds | None, signal: Signal | None
    ) -> None:
        self._warm = warm
        self._feeds, self._signal = feeds, signal
        self._chokes = [part.ref for part in design.of(Choke)]

    @property
    def state(self) -> State:
        return self._warm.nominal

    @property
    def rests_on(self) -> tuple[Datum, ...]:
        return self.state.rests_on

    @functools.cached_property
    def every(self) -> tuple[Mode, ...]:
        return modes(self.state.solved)

    def of_choke(self, ref: str) -> Mode | None:
        """The swing a choke takes the largest part in, and no other choke a larger one."""
        own = [
            mode
            for mode in self.every
            if mode.damping < 1.0
            and mode.shares.get(ref, 0.0)
            == max(mode.shares.get(c, 0.0) for c in self._chokes)
            > 0.1
        ]
        return max(own, key=lambda mode: mode.shares[ref], default=None)

    @functools.cached_property
    def swings(self) -> tuple[Swing, ...]:
        """Motions in which tubes keep a swing up: one for each supply node, the worst of them.

        What a choke swings by itself is no matter of tubes, unless it grows; what is left with
        every supply node held still is the feedback's doing, where that is positive.
        """
        worst: dict[str | None, Swing] = {}
        for mode in sorted(self._bad(self.every), key=lambda mode: mode.damping):
            swing = self._traced(mode)
            if swing.feed is None and self._fed_back:
                continue
            worst.setdefault(swing.feed.net if swing.feed is not None else None, swing)
        return tuple(worst.values())

    @functools.cached_property
    def _fed_back(self) -> bool:
        """Whether an output is led back in phase."""
        signal = self._signal
        backs = [signal.overall(out) for out in signal.outputs] if signal is not None else []
        return any(back is not None and back.positive for back in backs)

    def _bad(self, found: Iterable[Mode]) -> list[Mode]:
        return [
            mode
            for mode in found
            if mode.unstable
            or (
                mode.hertz < SLOW_HERTZ
                and mode.damping < DAMPED
                and not any(ref in mode.shares for ref in self._chokes)
            )
        ]

    def _traced(self, mode: Mode) -> Swing:
        feeds = self._feeds.every if self._feeds is not None else ()
        held = {ref: HELD for feed in feeds for ref in feed.capacitors}
        if not held or self._bad(modes(self.state.solved, held)):
            return Swing(mode, None, None)
        feed = max(feeds, key=lambda f: sum(mode.shares.get(ref, 0.0) for ref in f.capacitors))
        for times in TIMES:
            if not self._bad(modes(self.state.solved, dict.fromkeys(feed.capacitors, times))):
                return Swing(mode, feed, times)
        return Swing(mode, feed, None)


def make(design: Design, warm: Warm, feeds: Feeds | None, signal: Signal | None) -> SlowModes:
    """Lazy: the warm state is solved when a motion is asked for."""
    return SlowModes(design, warm, feeds, signal)
