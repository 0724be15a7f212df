"""Inrush: what each fuse carries in the first cycles after switch-on, with the mains at its highest.

Capacitors charge and cold heaters draw at once: that is computed.  The magnetising of a core left
at its worst flux is an estimate; the least of what the library gives is taken, so that a finding
says even that is too much.
"""

from __future__ import annotations

import functools
import math

import numpy as np

from coldcheck.lint.design import Design
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.mains_side import MainsSide
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import Array, Warm
from coldcheck.lint.model import Basis, Datum
from coldcheck.lint.physics.start import Start
from coldcheck.schemas.parts import MainsTransformer
from coldcheck.schemas.reference import fact


class Inrush:
    """The current of each fuse from switch-on."""

    def __init__(
        self, design: Design, mains: MainsSide, stages: Stages, warm: Warm, cold: ColdStart
    ) -> None:
        self._warm = warm
        self._cold = cold
        self._line = {*mains.line_fuses, *mains.neutral_fuses}
        self.half = 0.5 / design.document.site.mains.frequency
        """Seconds of half a mains cycle."""
        self._cold_ratio = fact("fuses", "heater_inrush_least_ratio")
        self._heated = tuple(heater.part.ref for heater in stages.heaters)
        self._mains = warm.mains["high"]
        cores = {p.spec.core for p in design.of(MainsTransformer) if p.ref in mains.primaries}
        self._kind = "toroid" if "toroid" in cores else "laminated"
        self._core_ratio = fact("fuses", f"{self._kind}_inrush_least_ratio")
        self._cores = bool(cores)

    @property
    def rests_on(self) -> tuple[Datum, ...]:
        """What the figures depend on."""
        return (
            *self._cold.rests_on,
            Datum("cold current of the heaters", Basis(self._cold_ratio.basis)),
            Datum("magnetising inrush of the core", Basis(self._core_ratio.basis)),
        )

    @property
    def working(self) -> tuple[str, ...]:
        """In words, what was taken."""
        return (
            f"cold heaters have a {self._cold_ratio.value:g}th of their running resistance",
            f"magnetising taken at {self._core_ratio.value:g} times the running current"
            f" ({self._kind} core)",
        )

    def knows(self, fuse: str) -> bool:
        """Whether a fuse is in the circuit: both its ends on a net."""
        return self._warm.high.knows(fuse)

    def most(self, fuse: str, seconds: float) -> float:
        """A bound on :meth:`rms` that needs no more solving: cold heaters drawing as from a mains
        that does not give, beside capacitors that charge as though they did not."""
        rush = self._cold.rush
        wave = self._wave(rush, fuse, seconds)
        if fuse in self._line:
            sine = np.sin(np.pi / self.half * float(rush.time[1]) * np.arange(wave.size))
            along = math.copysign(math.sqrt(2.0), float(wave @ sine))
            wave = wave + along * (self._cold_ratio.value - 1.0) * self._heaters * sine
        return self._with_core(fuse, wave, seconds)

    def rms(self, fuse: str, seconds: float) -> float:
        """rms amperes over the first ``seconds`` after switch-on."""
        rush = self._cold.pull(seconds) if self._heated else self._cold.rush
        return self._with_core(fuse, self._wave(rush, fuse, seconds), seconds)

    @functools.cached_property
    def _heaters(self) -> float:
        """Amperes that warm heaters draw from the mains while nothing else does."""
        state = self._cold.steady
        halves = [f"{ref}.heater.{half}" for ref in self._heated for half in (1, 2)]
        return sum(state.watts(name) for name in halves if state.knows(name)) / self._mains

    def _wave(self, rush: Start, fuse: str, seconds: float) -> Array:
        """Amperes from switch-on for so long; past what was computed, as its last cycle."""
        wave, step = rush.amperes(fuse), float(rush.time[1] - rush.time[0])
        count = max(1, round(seconds / step))
        if wave.size < count:
            last = wave[-round(2.0 * self.half / step) :]
            wave = np.concatenate([wave, np.resize(last, count - wave.size)])
        return wave[:count]

    def _with_core(self, fuse: str, wave: Array, seconds: float) -> float:
        """rms with the first pulse of magnetising, taken as half a sine wave lasting half of the
        half cycle (our choice): it adds peak squared x half / 4 to the i2t."""
        squared = float(np.mean(np.square(wave)))
        if fuse in self._line and self._cores:
            peak = self._warm.high.rms_amperes(fuse) * self._core_ratio.value
            squared += peak**2 * self.half / 4.0 / seconds
        return math.sqrt(squared)


def make(design: Design, mains: MainsSide, stages: Stages, warm: Warm, cold: ColdStart) -> Inrush:
    """Needs the supply and the tubes' heaters."""
    return Inrush(design, mains, stages, warm, cold)
