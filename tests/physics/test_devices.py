"""Laws of tubes and diodes: against published points, their own derivatives, and extremes."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from coldcheck.lint.physics import devices
from coldcheck.lint.physics.circuit import (
    Pentode,
    PentodeLaw,
    SiliconDiode,
    Triode,
    TriodeLaw,
    TubeDiode,
    ZenerDiode,
)
from physics import amplifiers

DATA = Path(__file__).parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def law_of(row: dict[str, str]) -> TriodeLaw | PentodeLaw:
    names = ["mu", "ex", "kg1", "kp", "kvb"]
    if row["kind"] == "triode":
        return TriodeLaw(**{n: float(row[n]) for n in names})
    return PentodeLaw(**{n: float(row[n]) for n in [*names, "kg2"]})


def plate_current(row: dict[str, str], grid: float) -> float:
    law, plate = law_of(row), float(row["plate_V"])
    if isinstance(law, TriodeLaw):
        return float(devices.triode_current(law, plate, grid))
    return float(devices.pentode_currents(law, plate, float(row["screen_V"]), grid)[0])


@pytest.mark.parametrize(
    "row", rows("points.csv"), ids=lambda r: f"{r['type']}-{r['plate_V']}V{r['grid_V']}V"
)
def test_published_operating_points(row: dict[str, str]) -> None:
    """The parameters were fitted to such rows, so this checks the law as written, to a fit's 10 %.

    What no fit has seen is checked in test_dc: the makers' tables of resistance-coupled stages.
    """
    grid = float(row["grid_V"])
    assert plate_current(row, grid) * 1e3 == pytest.approx(float(row["plate_mA"]), rel=0.10)
    if row["gm_umho"]:
        slope = (plate_current(row, grid + 0.01) - plate_current(row, grid - 0.01)) / 0.02
        assert slope * 1e6 == pytest.approx(float(row["gm_umho"]), rel=0.10)


def tubes() -> devices.Tubes:
    return devices.Tubes(
        [Triode("V1", "p", "g", "k", amplifiers.AX7), Triode("V2", "p", "g", "k", amplifiers.CG7)],
        [Pentode("V3", "p", "s", "g", "k", amplifiers.EL34)],
    )


def test_tube_jacobian_is_the_derivative() -> None:
    group, random = tubes(), np.random.default_rng(1)
    for _ in range(50):
        volts = random.uniform(5.0, 400.0, group.count)
        volts[group.reach < 10.0] = random.uniform(-20.0, 1.0, int((group.reach < 10.0).sum()))
        jacobian = group.currents(volts)[1]
        for port in range(group.count):
            step = np.zeros(group.count)
            step[port] = 1e-4
            rise = group.currents(volts + step)[0] - group.currents(volts - step)[0]
            assert rise / 2e-4 == pytest.approx(jacobian[:, port], rel=1e-4, abs=1e-9)


def test_diode_slopes_are_the_derivatives() -> None:
    group = devices.Diodes(
        [SiliconDiode("D1", "a", "k", 5e-9, 0.048, 0.04)],
        [TubeDiode("D2", "a", "k", 3e-4)],
        [ZenerDiode("Z1", "a", "k", 75.0, 50.0)],
    )
    volts = np.concatenate([np.linspace(-80.0, -70.0, 41), np.linspace(-1.02, 1.2, 60)])
    volts = np.tile(volts, (3, 1))
    rise = group.currents(volts + 1e-6)[0] - group.currents(volts - 1e-6)[0]
    assert rise / 2e-6 == pytest.approx(group.currents(volts)[1], rel=1e-3, abs=1e-7)


def test_extreme_voltages_stay_finite_and_silent() -> None:
    extremes = np.array([-1e6, -1e3, -1.0, 0.0, 1.0, 1e3, 1e6])
    for plate in extremes:
        for grid in extremes:
            assert np.isfinite(devices.triode_current(amplifiers.AX7, plate, grid))
            found = devices.pentode_currents(amplifiers.EL34, plate, extremes, grid)
            assert np.all(np.isfinite(found))
    for law in (
        devices.silicon_current(5e-9, 0.048, extremes),
        devices.child_current(3e-4, extremes),
        devices.zener_current(75.0, 0.0, extremes),
        devices.grid_current(2000.0, extremes),
    ):
        assert np.all(np.isfinite(law))


def test_nothing_flows_backward_through_a_tube() -> None:
    assert devices.triode_current(amplifiers.AX7, -50.0, 0.0) == 0.0
    assert devices.pentode_currents(amplifiers.EL34, -50.0, 250.0, 0.0)[0] == 0.0
    assert devices.child_current(3e-4, -50.0)[0] == 0.0


def test_zener_breaks_down_at_its_voltage() -> None:
    current = devices.zener_current(75.0, 50.0, np.array([-74.0, -75.5, 0.6]))[0]
    assert abs(current[0]) < 1e-6
    assert current[1] == pytest.approx(-0.01, rel=0.01)
    assert current[2] > 1e-6


def test_space_charge_diode_drops_its_published_voltage() -> None:
    """5Y3GT: 60 V at 125 mA (RCA Receiving Tube Manual RC-19, 1959)."""
    assert devices.child_current(amplifiers.Y3, 60.0)[0] == pytest.approx(0.125, rel=0.01)
