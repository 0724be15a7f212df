"""Inrush: what each fuse carries in the first cycles after switch-on, with the mains at its highest.

Charging of cold capacitors is computed.  Cold heaters and the magnetising of a core that was left
at its worst flux are estimates; the least of what the library gives is taken, so that a finding
says even that is too much.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from coldcheck.lint.design import Design
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.mains_side import MainsSide
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import Array, Warm
from coldcheck.lint.model import Basis, Datum
from coldcheck.schemas.parts import Fuse, MainsTransformer
from coldcheck.schemas.reference import fact


class Surge(NamedTuple):
    """Current of one fuse from switch-on."""

    charging: Array
    """(samples,) amperes while capacitors charge, heaters as warm."""
    step: float
    """Seconds between samples."""
    heaters: float
    """rms amperes more while the heaters are cold."""
    magnetising: float
    """Peak amperes of the first half cycle of magnetising."""
    half: float
    """Seconds of half a mains cycle."""

    def rms(self, seconds: float) -> float:
        """rms amperes over the first ``seconds`` after switch-on.

        A magnetising pulse is taken as half a sine wave lasting half of the half cycle (our
        choice), so that it adds peak squared x half / 4 to the i2t.
        """
        count = max(1, round(seconds / self.step))
        wave = self.charging[:count]
        if wave.size < count:
            cycle = self.charging[-round(2 * self.half / self.step) :]
            wave = np.concatenate([wave, np.resize(cycle, count - wave.size)])
        steady = float(np.sqrt(np.mean(np.square(wave)))) + self.heaters
        pulse = self.magnetising**2 * self.half / 4.0
        return float(np.sqrt(steady**2 + pulse / seconds))


class Inrush(NamedTuple):
    """The surge of each fuse, by reference."""

    surges: Mapping[str, Surge]
    half: float
    rests_on: tuple[Datum, ...]
    working: tuple[str, ...]


def make(design: Design, mains: MainsSide, stages: Stages, warm: Warm, cold: ColdStart) -> Inrush:
    """Needs the supply and the tubes' heaters."""
    line = {*mains.line_fuses, *mains.neutral_fuses}
    volts = warm.mains["high"]
    cold_ratio = fact("fuses", "heater_inrush_least_ratio")
    heated = sum(h.option.volts * h.option.amperes for h in stages.heaters) / volts
    cores = {part.spec.core for part in design.of(MainsTransformer) if part.ref in mains.primaries}
    kind = "toroid" if "toroid" in cores else "laminated"
    core_ratio = fact("fuses", f"{kind}_inrush_least_ratio")
    half = 0.5 / design.document.site.mains.frequency
    step = float(cold.rush.time[1] - cold.rush.time[0])
    surges = {}
    for part in design.of(Fuse):
        if warm.high.knows(part.ref):
            fed = part.ref in line
            surges[part.ref] = Surge(
                cold.rush.amperes(part.ref),
                step,
                heated * (cold_ratio.value - 1.0) if fed else 0.0,
                warm.high.rms_amperes(part.ref) * core_ratio.value if fed and cores else 0.0,
                half,
            )
    estimates = (
        Datum("cold current of the heaters", Basis(cold_ratio.basis)),
        Datum("magnetising inrush of the core", Basis(core_ratio.basis)),
    )
    words = (
        f"cold heaters taken at {cold_ratio.value:g} times their running current",
        f"magnetising taken at {core_ratio.value:g} times the running current ({kind} core)",
    )
    return Inrush(surges, half, (*cold.rests_on, *estimates), words)
