"""Inrush: what each fuse carries in the first cycles after switch-on, with the mains at its highest.

Capacitors charge and cold heaters draw at once: that is computed.  The magnetising of a core left
at its worst flux is an estimate; the least of what the library gives is taken, so that a finding
says even that is too much.
"""

from __future__ import annotations

import numpy as np

from coldcheck.lint.design import Design
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.mains_side import MainsSide
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import Warm
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
        heated = sum(h.option.volts * h.option.amperes for h in stages.heaters)
        self._heaters = heated / warm.mains["high"]
        """Amperes of the warm heaters, seen at the mains."""
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
        """A bound on :meth:`rms` that needs no more solving: the heaters drawing as from a mains
        that does not give, beside capacitors that charge as though they did not."""
        heaters = self._heaters * self._cold_ratio.value if fuse in self._line else 0.0
        return self._with_core(fuse, self._rms(self._cold.rush, fuse, seconds) + heaters, seconds)

    def rms(self, fuse: str, seconds: float) -> float:
        """rms amperes over the first ``seconds`` after switch-on."""
        rush = self._cold.pull if self._heaters else self._cold.rush
        return self._with_core(fuse, self._rms(rush, fuse, seconds), seconds)

    def _rms(self, rush: Start, fuse: str, seconds: float) -> float:
        wave, cycle = rush.amperes(fuse), 2.0 * self.half
        step = float(rush.time[1] - rush.time[0])
        count = max(1, round(seconds / step))
        if wave.size < count:  # as the last cycle that was computed
            last = wave[-round(cycle / step) :]
            wave = np.concatenate([wave, np.resize(last, count - wave.size)])
        return float(np.sqrt(np.mean(np.square(wave[:count]))))

    def _with_core(self, fuse: str, steady: float, seconds: float) -> float:
        """With the first pulse of magnetising, taken as half a sine wave lasting half of the half
        cycle (our choice): it adds peak squared x half / 4 to the i2t."""
        if fuse not in self._line or not self._cores:
            return steady
        peak = self._warm.high.rms_amperes(fuse) * self._core_ratio.value
        return float(np.sqrt(steady**2 + peak**2 * self.half / 4.0 / seconds))


def make(design: Design, mains: MainsSide, stages: Stages, warm: Warm, cold: ColdStart) -> Inrush:
    """Needs the supply and the tubes' heaters."""
    return Inrush(design, mains, stages, warm, cold)
