"""Power at the published distortion: output stages of data sheets, their ideal parts around our laws.

Of each row the drive is sought at which distortion is what the sheet says, and the power there is
held against the sheet's.  Triodes' distortion is nearly all second harmonic, so that is held too.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import pytest

from coldcheck.lint.physics.large_signal import Generator, MidBand
from coldcheck.lint.physics.supply import periodic_state
from physics.benches import Service, output_stage

OUT = ("out", "0")
POWER, SECOND = 0.12, 0.025
"""Bars: of power, relative; of the second harmonic, in shares of the fundamental."""


class Row(NamedTuple):
    """A sheet's operation, its distortion, and its second harmonic where the sheet tells it."""

    service: Service
    distortion: float
    second: float | None = None

    @property
    def name(self) -> str:
        pair = " pair" if self.service.pair else ""
        return f"{self.service.kind}{pair} {self.service.plate:g} V"


def row(
    kind: str,
    volts: tuple[float, float | None, float],
    peak: float,
    load: float,
    watts: float,
    distortion: float,
    second: float | None = None,
    pair: bool = False,
) -> Row:
    """``volts``: plate, screen, grid."""
    service = Service(kind, *volts, peak, None, None, load, watts, pair)
    return Row(service, distortion, second)


ROWS = (
    # RCA 2A3, as transcribed at r-type.org; of a triode the second harmonic is nearly all.
    row("2A3", (250, None, -45), 45, 2500, 3.5, 0.05, 0.05),
    # RCA 45, class A1; from memory.
    row("45", (250, None, -50), 50, 3900, 1.6, 0.05, 0.05),
    row("45", (275, None, -56), 56, 4600, 2.0, 0.05, 0.05),
    # Western Electric 300B, 300 V, 2400 ohm; from memory.
    row("300B", (300, None, -61), 61, 2400, 6.0, 0.05, 0.05),
    # GE 6V6GT 1955 and RCA RC-19; full-signal figures from memory.
    row("6V6GT", (180, 180, -8.5), 8.5, 5500, 2.0, 0.08),
    row("6V6GT", (250, 250, -12.5), 12.5, 5000, 4.5, 0.08),
    row("6V6GT", (315, 225, -13), 13, 8500, 5.5, 0.12),
    row("6V6GT", (250, 250, -15), 15, 10000, 10.0, 0.05, pair=True),
    # RCA 6L6-GC, 1960; full-signal figures from memory, its second harmonic among them.
    row("6L6GC", (250, 250, -14), 14, 2500, 6.5, 0.10, 0.097),
    row("6L6GC", (350, 250, -18), 18, 4200, 10.8, 0.15),
    row("6L6GC", (450, 400, -37), 37, 5600, 55.0, 0.018, pair=True),
    # Philips EL84, 1958, and EL34, 1959; from memory.
    row("EL84", (250, 250, -7.3), 6.1, 5200, 5.7, 0.10),
    row("EL34", (250, 265, -13.5), 12.3, 2000, 11.0, 0.10),
    # Philips ECL82 (6BM8) and EL86, pentode, class A; from memory.
    row("6BM8", (200, 200, -16), 9.3, 5600, 3.5, 0.10),
    row("EL86", (170, 170, -12.5), 10.0, 2400, 5.6, 0.10),
    # RCA 6AQ5-A, 6K6-GT and 6F6-GT (RC-19); from memory.
    row("6AQ5A", (250, 250, -12.5), 12.5, 5000, 4.5, 0.08),
    row("6K6GT", (250, 250, -18), 18, 7600, 3.4, 0.11),
    row("6F6GT", (250, 250, -16.5), 16.5, 7000, 3.2, 0.08),
    # GEC KT66, single; from memory.
    row("KT66", (250, 250, -15), 15, 2200, 7.25, 0.09),
)

MISSES = {
    # Class AB into a stiff supply: the law's knee lets distortion rise earlier than the sheet's,
    # which give it at full drive; power at full drive is within 8 %.
    "6V6GT pair 250 V": "-34 % at 5 %; 9.62 W at the sheet's drive, at 9 %",
    "6L6GC pair 450 V": "-69 % at 1.8 %; 59 W at the sheet's drive, at 5 %",
    # The triode's law clips later than the tube, whose grid already draws current.
    "45 250 V": "18 %",
    "45 275 V": "15 %",
    "6AQ5A 250 V": "13 %",
    "6K6GT 250 V": "23 %",
    "6F6GT 250 V": "19 %",
    "KT66 250 V": "13 %",
}
"""Rows whose power is beyond the bar, and by how much: all of them come out with more than a real
tube gives, or with their distortion at lower drive, and tubes of one type spread by as much."""


def at_distortion(wanted: Row) -> tuple[float, float, float]:
    """Watts, second harmonic's share, and the drive's peak over the sheet's, at its distortion."""
    service = wanted.service
    generators = [Generator("in a", "0", 1.0)]
    if service.pair:
        generators.append(Generator("0", "in b", 1.0))
    band = MidBand(periodic_state(output_stage(service)), generators)
    low, high = 0.2 * service.peak, 1.6 * service.peak
    drive = band.drive(low)
    for _ in range(16):
        middle = 0.5 * (low + high)
        drive = band.drive(middle, drive)
        if drive.distortion(OUT) < wanted.distortion:
            low = middle
        else:
            high = middle
    first, second, *_ = drive.harmonics(OUT)
    return float(drive.watts("load")), abs(float(second / first)), drive.amplitude / service.peak


@pytest.mark.parametrize("wanted", ROWS, ids=lambda r: r.name)
def test_power_at_the_published_distortion(wanted: Row) -> None:
    watts, second, share = at_distortion(wanted)
    missed = abs(watts / wanted.service.watts - 1.0) > POWER
    assert missed is (wanted.name in MISSES), watts
    assert 0.4 < share < 1.3
    if wanted.second is not None:
        assert abs(second - wanted.second) <= SECOND


def test_at_least_six_types_are_within_the_bar() -> None:
    """At 5 or 10 % distortion; others at what their sheets say."""
    within = {
        wanted.service.kind
        for wanted in ROWS
        if wanted.name not in MISSES and wanted.distortion in (0.05, 0.10)
    }
    assert len(within) >= 6
    names = [wanted.name for wanted in ROWS]
    assert set(MISSES) <= set(names)
    assert len(set(names)) == len(names)


def test_harmonics_of_a_known_wave() -> None:
    """A square law with the bias of a 2A3: second harmonic alone, a quarter of the drive's share."""
    wanted = ROWS[0]
    band = MidBand(periodic_state(output_stage(wanted.service)), [Generator("in a", "0", 1.0)])
    small, twice = band.drive(2.0), band.drive(4.0)
    grows = [abs(d.harmonics(OUT)[1] / d.harmonics(OUT)[0]) for d in (small, twice)]
    assert grows[1] == pytest.approx(2.0 * grows[0], rel=0.02)
    assert math.isclose(small.distortion(OUT), grows[0], rel_tol=0.05)
