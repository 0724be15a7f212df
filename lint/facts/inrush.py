"""Inrush: what each fuse carries in the first cycles after switch-on, with the mains at its highest.

Capacitors charge, cold heaters draw, and a core left at its worst flux saturates: all of it at once,
from the moment the mains passes zero, when the flux goes farthest.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator

import numpy as np

from coldcheck.lint.design import Design
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.mains_side import MainsSide
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import Array, Warm
from coldcheck.lint.model import Basis, Datum
from coldcheck.lint.physics.circuit import Transformer
from coldcheck.lint.physics.start import Start
from coldcheck.schemas.reference import fact

LOOKS = (2, 4, 8, 16)
"""Mains cycles after which it is looked whether more are needed; our choice."""


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

    @property
    def rests_on(self) -> tuple[Datum, ...]:
        """What the figures depend on."""
        return (
            *self._cold.rests_on,
            Datum("cold current of the heaters", Basis(self._cold_ratio.basis)),
            *self._cold.drawing.core_data,
        )

    @property
    def working(self) -> tuple[str, ...]:
        """In words, what was taken."""
        return (
            f"cold heaters have a {self._cold_ratio.value:g}th of their running resistance",
            *(f"the core of {ref} left magnetised, and saturating" for ref in self._cold.remanent),
        )

    def knows(self, fuse: str) -> bool:
        """Whether a fuse is in the circuit: both its ends on a net."""
        return self._warm.high.knows(fuse)

    def bounds(self, fuse: str, seconds: float) -> Iterator[float]:
        """Bounds on :meth:`rms`, each lower and dearer than the one before, and :meth:`rms` last."""
        yield self._unhindered(fuse, seconds)
        for cycles in LOOKS:
            if 2.0 * self.half * cycles < seconds:
                yield self._going_on(fuse, seconds, 2.0 * self.half * cycles)
        yield self.rms(fuse, seconds)

    def _going_on(self, fuse: str, seconds: float, known: float) -> float:
        """From a shorter run: what heats and magnetises draws less from cycle to cycle, so past the
        end of it its last cycle goes on, larger by as much as what charges still rises."""
        run = self._cold.pull(known)
        squared, step = np.square(run.amperes(fuse)), float(run.time[1])
        rest, cycle = round(seconds / step) - squared.size, round(2.0 * self.half / step)
        if rest <= 0:
            return self.rms(fuse, seconds)
        charging = np.square(self._cold.rush.amperes(fuse))[squared.size - cycle :]
        cycles = charging[: charging.size // cycle * cycle].reshape(-1, cycle).sum(axis=1)
        rises = max(1.0, *(cycles / max(cycles[0], 1e-30))) if cycles.size else 1.0
        going_on = rises * float(np.mean(squared[-cycle:]))
        return math.sqrt((float(np.sum(squared)) + rest * going_on) / (squared.size + rest))

    def _unhindered(self, fuse: str, seconds: float) -> float:
        """Needs no more solving: cold heaters and cores drawing as from a mains that does not give,
        beside capacitors that charge as though they did not."""
        rush = self._cold.rush
        wave = np.abs(self._wave(rush, fuse, seconds))
        if fuse in self._line:
            angle = np.asarray(rush.time[1] * math.pi / self.half * np.arange(float(wave.size)))
            cold = math.sqrt(2.0) * (self._cold_ratio.value - 1.0) * self._heaters
            wave = wave + cold * np.abs(np.sin(angle)) + self._cores(angle)
        return float(np.sqrt(np.mean(np.square(wave))))

    def rms(self, fuse: str, seconds: float) -> float:
        """rms amperes over the first ``seconds`` after switch-on."""
        wave = self._wave(self._cold.pull(seconds), fuse, seconds)
        return float(np.sqrt(np.mean(np.square(wave))))

    def _cores(self, angle: Array) -> Array:
        """Magnetising amperes of all cores with nothing in their way, at angles of the mains."""
        drawn = np.zeros_like(angle)
        circuit = self._cold.drawing.circuit
        for element in circuit.elements:
            if isinstance(element, Transformer) and element.name in self._cold.remanent:
                henries, saturation = element.magnetising or 0.0, element.saturation
                if saturation is None:
                    continue
                reactance = 2.0 * math.pi * circuit.mains_hz * henries
                swing = math.sqrt(2.0) * self._mains / reactance
                flux = abs(self._cold.remanent[element.name]) + swing * (1.0 - np.cos(angle))
                past = np.maximum(flux - saturation.amperes, 0.0)
                drawn += flux + (henries / saturation.henries - 1.0) * past
        return drawn

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


def make(design: Design, mains: MainsSide, stages: Stages, warm: Warm, cold: ColdStart) -> Inrush:
    """Needs the supply and the tubes' heaters."""
    return Inrush(design, mains, stages, warm, cold)
