"""Laws of tubes and diodes: against their own derivatives and extremes.

Against what was published: test_published_tubes.
"""

from __future__ import annotations

import numpy as np
import pytest

import tube_laws
from coldcheck.lint.physics import devices
from coldcheck.lint.physics.circuit import (
    Circuit,
    Pentode,
    PentodeLaw,
    SiliconDiode,
    Triode,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.junctions import Junctions
from physics import amplifiers

PENTODES = [
    pytest.param(law, id=name) for name, law in tube_laws.laws() if isinstance(law, PentodeLaw)
]


@pytest.mark.parametrize("law", PENTODES)
def test_a_pentode_divides_what_its_cathode_emits(law: PentodeLaw) -> None:
    plate = np.concatenate([[0.0], np.geomspace(0.1, 800.0, 200)])
    for screen in (60.0, 150.0, 300.0, 450.0):
        for bias in (0.0, 0.5, 0.9):
            grid = -bias * screen / law.mu
            at_plate, at_screen = devices.pentode_currents(law, plate, screen, grid)
            space = float(at_screen[0])
            assert at_plate[0] == 0.0 and space > 0.0
            total = space * (1.0 + law.plate_pull * plate)
            assert at_plate + at_screen == pytest.approx(total, rel=1e-12)
            assert np.all(np.diff(at_plate) > 0.0) and np.all(np.diff(at_screen) < 0.0)
            # Steep below the knee, flat above: most of the change lies in the first 100 V.
            low, high = np.interp([100.0, 800.0], plate, at_screen)
            assert space - low > 4.0 * (low - high)
            assert np.interp(100.0, plate, at_plate) > 0.7 * np.interp(300.0, plate, at_plate)
            below, half = devices.pentode_currents(law, -40.0, screen, grid)[1], 1.0 / law.beta
            assert below == space
            share = devices.pentode_currents(law, half, screen, grid)[1] / space
            assert share == pytest.approx(0.5 * (1.0 + law.kg1 / law.kg2), rel=1e-9)


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
    group = Junctions.of(
        Circuit(
            (
                SiliconDiode("D1", "a", "k", 5e-9, 0.048, 0.04),
                TubeDiode("D2", "a", "k", 3e-4),
                ZenerDiode("Z1", "a", "k", 75.0, 50.0),
            ),
            "0",
        )
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
