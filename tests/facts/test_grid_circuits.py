"""What leads to a grid, and how steeply its tube answers it."""

from __future__ import annotations

import pytest

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.grid_leaks import GridLeaks
from coldcheck.lint.facts.signal import Signal
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import Warm
from coldcheck.lint.physics.circuit import Triode
from coldcheck.lint.physics.devices import triode_current
from coldcheck.lint.read.project import load
from scenes import written


def study(base: str) -> Study:
    return Study(load(*written(base), f"{base}.toml").design)


def test_a_grid_is_coupled_by_what_stands_before_its_stopper() -> None:
    """Not by the capacitor of another grid on the same bias, nor by the output's beyond a cathode."""
    leaks: GridLeaks = study("harbour").get("GridLeaks")
    assert leaks.couplings["V2L"] == ("C13L",)
    assert leaks.couplings["V3L"] == ("C14L",)
    assert leaks.couplings["V1L.2"] == ("C11L",)
    assert leaks.couplings["V1L.1"] == ()
    follower: GridLeaks = study("heron").get("GridLeaks")
    assert follower.couplings["V2.1"] == ("C5L",)


@pytest.mark.parametrize("base", ["lantern", "heron"])
def test_transconductance_is_the_slope_of_the_law(base: str) -> None:
    """By a difference of a millivolt at the operating point."""
    made = study(base)
    signal: Signal = made.get("Signal")
    stages: Stages = made.get("Stages")
    warm: Warm = made.get("Warm")
    triodes = [stage for stage in stages.amplifying if stage.kind == "triode"]
    assert triodes
    for stage in triodes:
        element = warm.nominal.solved.network.elements[stage.name]
        assert isinstance(element, Triode) and stage.grid is not None
        plate = warm.nominal.over(stage.plate, stage.cathode)
        grid = warm.nominal.over(stage.grid, stage.cathode)
        more, less = (float(triode_current(element.law, plate, grid + d)) for d in (5e-4, -5e-4))
        assert signal.transconductance(stage) == pytest.approx((more - less) / 1e-3, rel=1e-4)
