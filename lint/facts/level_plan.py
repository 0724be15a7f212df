"""The level plan: from the source through the volume control to full power.

Sensitivity is the source's voltage that drives the amplifier to clipping with the volume turned up.
It is found as the clipping amplitude with the controls as they stand, times how much more they
would pass: at mid-band they carry no current that would change with them.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator
from typing import NamedTuple

from coldcheck.lint.design import Design
from coldcheck.lint.facts.full_drive import FullDrive
from coldcheck.lint.facts.signal import AT, Signal, StageGain
from coldcheck.lint.model import Datum
from coldcheck.lint.physics.circuit import NotSolved
from coldcheck.lint.physics.small_signal import SmallSignal

LEAST = 1e-6
"""Gain below which nothing arrives; our choice."""
STEPS = 12
"""Halvings by which a control's place is found: to 1 in 4000 of its track; our choice."""


class Margin(NamedTuple):
    """How near a stage ahead of the volume control comes to its grid's limit."""

    stage: StageGain
    peak: float
    """Volts at its grid with the source at its full level."""
    room: float
    """Volts from its bias to 0, where grid current begins."""


class LevelPlan:
    """Where the source's level takes the amplifier; volts are rms."""

    def __init__(self, design: Design, signal: Signal, full: FullDrive) -> None:
        self._signal = signal
        self._full = full
        source = design.document.site.source
        assert source is not None  # FullDrive would not be there
        self.level = source.level
        """Of the source, in volts."""
        self.controls = signal.controls
        self.rests_on: tuple[Datum, ...] = signal.rests_on

    @property
    def state(self) -> str:
        return self._full.nominal.clipping.name

    @functools.cached_property
    def sensitivity(self) -> float:
        """The source's volts at which the first output clips, the volume turned up."""
        standing = self._full.nominal.clipping.amplitude / math.sqrt(2.0)
        out = self._signal.outputs[0]
        most = abs(self._signal.gain(out, full=True))
        if most < LEAST:
            raise NotSolved("the signal reaches no output", (out.a, out.b))
        return standing * abs(self._signal.gain(out)) / most

    @property
    def spare(self) -> float:
        """How many times more than needed the source gives; below 1 it is too small."""
        return self.level / self.sensitivity

    @functools.cached_property
    def place(self) -> float | None:
        """Share of the volume control's track, from its low end, for full power from the source.

        1 when the source is too small; None without a control.
        """
        return self.place_of(self.sensitivity / self.level) if self.controls else None

    def place_of(self, share: float) -> float:
        """Where the volume control passes that share of what it passes turned up; at most 1."""
        low, high = 0.0, 1.0
        wanted = share * abs(self._signal.gain(self._signal.outputs[0], full=True))
        for _ in range(STEPS):
            middle = 0.5 * (low + high)
            if self._passed(middle) < wanted:
                low = middle
            else:
                high = middle
        return high

    def _passed(self, share: float) -> float:
        signal, out = self._signal, self._signal.outputs[0]
        turned = SmallSignal(
            signal.state.solved, signal.generators, changed=signal.turned(max(share, 1e-6))
        )
        return float(abs(turned.gains([(out.a, out.b)], AT)[0, 0]))

    @functools.cached_property
    def ahead(self) -> tuple[Margin, ...]:
        """Stages that the source reaches past no volume control, with what it does to them."""
        return tuple(self._ahead())

    def _ahead(self) -> Iterator[Margin]:
        signal = self._signal
        for found in signal.stages:
            port = (found.stage.grid or found.stage.cathode, found.stage.cathode)
            full = abs(signal.linear(full=True).gains([port], AT)[0, 0])
            standing = abs(found.driven)
            if self.controls and full > 1.01 * standing:
                continue
            bias = signal.state.over(port[1], port[0])
            yield Margin(found, math.sqrt(2.0) * self.level * standing, bias)


def make(design: Design, signal: Signal, full: FullDrive) -> LevelPlan:
    """As FullDrive, which says what lacks."""
    return LevelPlan(design, signal, full)
