"""A choke ahead of the first capacitor, solved, against the first term of its Fourier series.

Source: a full-wave rectified sine is 2/3 ripple at twice the mains frequency for each volt of dc
(Fourier), so that current stops flowing when L < R / (6 pi f).  The higher terms add a little: the
exact edge lies within a tenth of that.
"""

from __future__ import annotations

import math

import pytest

from coldcheck.lint.engine.study import Study
from documents import design

OHMS = 2000.0
CRITICAL = OHMS / (6.0 * math.pi * 50.0)
SUPPLY = """
[parts]
J1 = {{ kind = "inlet" }}
D1 = {{ kind = "bridge", voltage = "1000 V", current = "1 A" }}
L1 = {{ kind = "choke", inductance = "{henries:.6f} H", resistance = "1" }}
C1 = {{ kind = "capacitor", dielectric = "electrolytic", value = "470u", voltage = "400 V" }}
R1 = {{ kind = "resistor", value = "2k" }}
T1 = {{ kind = "mains transformer", primary = {{ voltage = "230 V", resistance = "0.1" }}, windings.ht = {{ voltage = "200 V", current = "0.1 A", resistance = "0.1", no_load = "200 V" }} }}
[schematic]
J1 = ["line", "neutral", "chassis"]
T1 = {{ primary = ["line", "neutral"], ht = ["a", "b"] }}
D1 = ["a", "b", "raw", "chassis"]
L1 = ["raw", "B1"]
C1 = ["B1", "chassis"]
R1 = ["B1", "chassis"]
"""


@pytest.mark.parametrize(("share", "flows"), [(0.8, False), (0.9, False), (1.1, True), (1.5, True)])
def test_current_stops_below_the_critical_inductance(share: float, flows: bool) -> None:
    state = Study(design(SUPPLY.format(henries=share * CRITICAL))).get("Warm").nominal
    drawn = state.mean_amperes("L1")
    assert drawn == pytest.approx(state.volts("B1") / OHMS, rel=1e-3)
    assert (state.least_amperes("L1") > 0.01 * drawn) is flows


def test_beyond_it_the_dc_is_the_mean_of_the_rectified_wave() -> None:
    state = Study(design(SUPPLY.format(henries=1.5 * CRITICAL))).get("Warm").nominal
    mean = 2.0 * math.sqrt(2.0) * 200.0 / math.pi
    assert mean - 4.0 < state.volts("B1") < mean


def test_a_current_that_reverses_has_no_least() -> None:
    state = Study(design(SUPPLY.format(henries=CRITICAL))).get("Warm").nominal
    assert state.least_amperes("T1.ht") == 0.0


@pytest.mark.parametrize("share", [1.5, 3.0])
def test_the_ripple_of_the_current_is_its_fourier_series(share: float) -> None:
    """2 / (4 k^2 - 1) of the dc at 2 k times the mains, over 2 k w L (twenty terms of it)."""
    state = Study(design(SUPPLY.format(henries=share * CRITICAL))).get("Warm").nominal
    reactance = 2.0 * math.pi * 50.0 * share * CRITICAL
    dc = state.volts("B1")
    ripple = [
        -sum(
            dc * 2.0 / (4 * k * k - 1) / (2 * k * reactance) * math.sin(2 * k * at)
            for k in range(1, 21)
        )
        for at in (math.pi * step / 500.0 for step in range(500))
    ]
    drawn = dc / OHMS
    assert state.least_amperes("L1") == pytest.approx(drawn + min(ripple), abs=0.01 * drawn)
    assert state.peak_amperes("L1") == pytest.approx(drawn + max(ripple), abs=0.01 * drawn)


def test_the_inrush_bound_from_a_short_run_foresees_the_choke() -> None:
    """10 H into 470 uF draws the most at a quarter of 2 pi sqrt(L C), a tenth of a second."""
    fused = SUPPLY.format(henries=10.0).replace('J1 = ["line"', 'F1 = ["line", "m"]\nJ1 = ["line"')
    fused = fused.replace('["line", "neutral"], ht', '["m", "neutral"], ht')
    fuse = 'F1 = { kind = "fuse", current = "1 A", speed = "T" }\n[schematic]'
    inrush = Study(design(fused.replace("[schematic]", fuse))).get("Inrush")
    _, two, four, eight, exact = inrush.bounds("F1", 0.2)
    assert inrush.rms("F1", 0.04) < inrush.rms("F1", 0.1)
    assert two > four > eight > exact
