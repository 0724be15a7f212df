"""Laws of tubes and diodes: against published points, their own derivatives, and extremes."""

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

# Rows a law misses by more than the bars, and by how much: what is printed there, and why.
MISSES = {
    # RCA prints a lower screen share at 450 V than at 400 or 540 V; no smooth law meets all three.
    ("7027A 450/350 V -30 V", "plate_current"): 0.12,
    ("7027A 450/350 V -30 V", "screen_current"): 0.44,
    # Voltages worked out from supply and resistors, as recalled; 75 mA here sits ill beside 62.5 mA
    # at 398/393 V, -31.7 V.
    ("EL34 352/342 V -22.5 V", "plate_current"): 0.13,
    # Far from every row fitted; the screen's share falls with plate voltage more than it did.
    ("EL34 800/395 V -39 V", "screen_current"): -0.43,
    # Nearly the drive of 250/250 V, -7.3 V, and three quarters of its current.
    ("EL84 300/300 V -10.4 V", "plate_current"): 0.21,
    ("EL84 250/250 V -11.6 V", "plate_current"): -0.11,
    # The sheets print 5 mA at 60 to 72 mA and 2.5 mA at 44 mA; the law has no share of drive.
    ("6L6GC 270/270 V -17.5 V", "screen_current"): -0.26,
}


@pytest.mark.parametrize("row", tube_laws.rows(), ids=lambda r: r.label)
def test_published_rows(row: tube_laws.Row) -> None:
    """Plate current within 10 % and screen current within 25 %, held-out rows too, but for MISSES.

    Tables no fit has seen, those of resistance-coupled stages, are checked in test_dc.
    """
    law = tube_laws.law_of(row.type)
    assert law is not None
    for quantity, error in tube_laws.residuals(law, row).items():
        known = MISSES.get((row.label, quantity))
        if known is not None:
            assert abs(known) > tube_laws.BARS[quantity]
            assert error == pytest.approx(known, abs=0.006)
        elif quantity in tube_laws.BARS:
            assert abs(error) <= tube_laws.BARS[quantity], quantity


def test_every_miss_is_of_a_row() -> None:
    printed = {(row.label, name) for row in tube_laws.rows() for name in row.printed}
    assert set(MISSES) <= printed


FULL_DRIVE = [row for row in tube_laws.rows() if row.load is not None]


@pytest.mark.parametrize("row", FULL_DRIVE, ids=lambda r: r.label)
def test_mean_currents_at_full_drive(row: tube_laws.Row) -> None:
    """The knee: mean currents the makers print for a stage driven to 0 V, as recalled.

    They bear on where plate current gives way to screen current, which no idle row does.  Found
    within 11 % and 56 %.
    """
    law = tube_laws.law_of(row.type)
    assert isinstance(law, PentodeLaw) and row.load is not None
    plate, screen = tube_laws.at_full_drive(law, row)
    assert plate == pytest.approx(row.load[2], rel=0.12)
    assert screen == pytest.approx(row.load[3], rel=0.60)
    idle = tube_laws.computed(law, row)["screen_current"]
    assert screen > 1.2 * idle


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
