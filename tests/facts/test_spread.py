"""A thousand builds of a document: which tolerances they are drawn from, and that they stay so."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts import spread as spreading
from coldcheck.lint.facts.spread import BUILDS, STRONGEST, TWINS, Population, Spread
from coldcheck.lint.physics import spread as physics
from coldcheck.lint.physics.circuit import NotSolved
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.spread import Builds
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_text
from documents import ROOT, design

BATTERY = """
[parts]
B1 = { kind = "voltage source", voltage = "90 V", resistance = "1" }
C1 = { kind = "capacitor", dielectric = "film", value = "1u", voltage = "400 V" }
R1 = { kind = "resistor", value = "10k" }
R2 = { kind = "resistor", value = "20k", tolerance = "1 %" }
[schematic]
B1 = ["top", "0V"]
C1 = ["top", "0V"]
R1 = ["top", "middle"]
R2 = ["middle", "0V"]
"""
SUPPLY = """
[parts]
J1 = { kind = "inlet" }
D1 = { kind = "bridge", voltage = "1000 V", current = "1 A" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "47u", voltage = "400 V" }
R1 = { kind = "resistor", value = "10k", style = "wirewound" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "20" }, windings.ht = { voltage = "200 V", current = "0.1 A", resistance = "30", no_load = "215 V" } }
[schematic]
J1 = ["line", "neutral", "chassis"]
T1 = { primary = ["line", "neutral"], ht = ["a", "b"] }
D1 = ["a", "b", "B1", "0V"]
C1 = ["B1", "0V"]
R1 = ["B1", "0V"]
"""


def of(body: str) -> Spread:
    return Study(design(body)).get("Spread")


def demo(name: str) -> Spread:
    data = (ROOT / "projects" / f"{name}.toml").read_bytes()
    raw, positions = read_text(data, name)
    return Study(load(raw, positions, name).design).get("Spread")


def said(population: Population) -> str:
    return "; ".join(f"{datum.what} ({datum.basis.value})" for datum in population.rests_on)


def test_making_it_solves_nothing() -> None:
    study = Study(design(SUPPLY))
    spread, warm = study.get("Spread"), study.get("Warm")
    assert not {"nominal", "high"} & (vars(spread).keys() | vars(warm).keys())
    spread.high  # noqa: B018 - asked for, and only then solved
    assert "high" in vars(warm)


def test_a_divider_within_the_tolerances_of_its_resistors() -> None:
    """5 % on R1 as nothing is said, 1 % on R2: 90 V R2 / (R1 + R2 + 1 ohm)."""
    builds = of(BATTERY).high
    middle = builds.volts("middle")
    least, most = (90.0 * b / (a + b + 1.0) for a, b in ((10.5e3, 19.8e3), (9.5e3, 20.2e3)))
    assert least < middle.min() < least + 0.15 and most - 0.15 < middle.max() < most
    band = builds.band(middle)
    # R1 alone, at its 5 % and 95 % points of 10k within 5 %; R2 widens it by little
    alone = [90.0 * 20e3 / (10e3 * f + 20e3) for f in (1.045, 1.0, 0.955)]
    assert band == pytest.approx(alone, abs=0.06)
    assert said(builds) == "film resistors within 5 % of their value (common practice, no source)"


@pytest.mark.parametrize(
    ("style", "usual"), [("oxide", 5), ("wirewound", 5), ("carbon composition", 10)]
)
def test_a_tolerance_that_is_not_given_depends_on_the_style(style: str, usual: int) -> None:
    builds = of(BATTERY.replace('"10k"', f'"10k", style = "{style}"')).high
    ohms = 20e3 * (90.0 / builds.volts("middle") - 1.0)  # but for the 1 % of R2
    assert ohms.max() / 10e3 == pytest.approx(1.0 + usual / 100.0, abs=0.012)
    assert f"{style} resistors within {usual} % of their value" in said(builds)


def test_the_mains_varies_at_nominal_and_stands_still_at_high() -> None:
    spread = of(SUPPLY)
    high, nominal = spread.high, spread.nominal
    assert np.ptp(high.volts("B1")) < 0.02 * high.volts("B1").mean()
    band = nominal.band(nominal.volts("B1"))
    # a bridge into a capacitor follows the mains: 9 % at the 5 % and 95 % points
    assert band.low / band.middle == pytest.approx(0.91, abs=0.005)
    assert band.high / band.middle == pytest.approx(1.09, abs=0.005)
    assert (high.name, nominal.name) == ("warm, mains high", "warm, mains within 10 %")


def test_no_load_volts_worked_out_are_no_better_than_the_nameplate() -> None:
    measured, worked_out = of(SUPPLY).high, of(SUPPLY.replace(', no_load = "215 V"', "")).high
    assert "no-load volts within 5 %" in said(worked_out)
    assert "no-load volts within" not in said(measured)
    band = worked_out.band(worked_out.volts("B1"))
    assert band.high / band.middle == pytest.approx(1.045, abs=0.005)


def test_a_zener_is_within_its_class() -> None:
    body = BATTERY.replace('R2 = { kind = "resistor", value = "20k", tolerance = "1 %" }', "")
    body = body.replace("[schematic]", 'Z1 = { kind = "zener", voltage = "33 V" }\n[schematic]')
    builds = of(body.replace('R2 = ["middle", "0V"]', 'Z1 = ["0V", "middle"]')).high
    volts = builds.volts("middle")
    assert volts.min() == pytest.approx(33.0 * 0.95, abs=0.15)
    assert volts.max() == pytest.approx(33.0 * 1.05, abs=0.15)
    assert "zeners and regulators within 5 % (from memory)" in said(builds)


def test_tubes_differ_more_than_the_sections_of_one() -> None:
    """Seen as the factors themselves: a cathode resistor hides most of it in a circuit."""
    builds = demo("heron").high._found.builds.amperes
    assert set(builds) == {"V1.1", "V1.2", "V2.1", "V2.2"}
    bulbs = np.log([builds["V1.1"], builds["V1.2"], builds["V2.1"]])
    likeness = np.corrcoef(bulbs)
    assert likeness[0, 1] > 0.9 and abs(likeness[0, 2]) < 0.1
    for factor in builds.values():
        assert STRONGEST * (1 - TWINS) < factor.max() < STRONGEST * (1 + TWINS)
        assert np.median(factor) == pytest.approx(1.0, abs=0.01)
        # a triangle over the logarithm: half of them within 1 - sqrt(1/2) of its half width
        halfway = STRONGEST ** (1.0 - 0.5**0.5)
        assert np.mean(np.abs(np.log(factor)) < np.log(halfway)) == pytest.approx(0.5, abs=0.03)


def test_a_lone_tube_is_drawn_from_the_triangle_exactly() -> None:
    factor = np.sort(demo("lantern").high._found.builds.amperes["V2"])
    assert factor[0] == pytest.approx(1.0 / STRONGEST, rel=0.02)
    assert factor[-1] == pytest.approx(STRONGEST, rel=0.02)
    assert factor[BUILDS // 2] == pytest.approx(1.0, abs=1e-3)


def test_what_a_build_draws_depends_on_the_name_only() -> None:
    lines = BATTERY.splitlines()
    one, two = (next(k for k, x in enumerate(lines) if x.startswith(r)) for r in ("R1 =", "R2 ="))
    lines[one], lines[two] = lines[two], lines[one]
    turned = "\n".join(lines).replace(
        "[schematic]", 'R3 = { kind = "resistor", value = "1k" }\n[schematic]\nR3 = ["top", "0V"]'
    )
    # R3 changes no voltage but by the ohm of the battery
    assert of(turned).high.volts("middle") == pytest.approx(of(BATTERY).high.volts("middle"), 2e-3)


def test_no_digit_depends_on_what_was_asked_first() -> None:
    first, second = demo("lantern"), demo("lantern")
    high, nominal = first.high, first.nominal
    assert np.array_equal(nominal.volts("plate 2"), second.nominal.volts("plate 2"))
    assert np.array_equal(high.plate_watts("V2"), second.high.plate_watts("V2"))


@pytest.mark.parametrize("name", ["lantern", "heron", "harbour"])
def test_the_middle_of_the_builds_is_about_the_drawing(name: str) -> None:
    spread = demo(name)
    for population, state in (
        (spread.high, spread._warm.high),
        (spread.nominal, spread._warm.nominal),
    ):
        assert population.lost == 0
        for tube in state.solved.network.tubes.plate_port:
            middle = population.band(population.plate_watts(tube)).middle
            assert middle == pytest.approx(state.watts(tube), rel=0.03)
            drawn = state.mean_amperes(tube)
            assert np.median(population.plate_amperes(tube)) == pytest.approx(drawn, rel=0.03)
        for tube in state.solved.network.tubes.screen_port:
            assert np.median(population.screen_watts(tube)) == pytest.approx(
                state.screen_watts(tube), rel=0.06
            )
            assert np.all(population.screen_amperes(tube) > 0.0)


def test_fixed_bias_lets_tubes_differ_and_cathode_bias_does_not() -> None:
    """Negative feedback by the cathode resistor: 1 + gm Rk, about 3 here, less of the spread."""

    def width(name: str, tube: str) -> float:
        builds = demo(name).high
        low, middle, high = builds.band(builds.plate_amperes(tube))
        return (high - low) / middle

    assert width("lantern", "V2") < 0.2 < 0.35 < width("harbour", "V2L")


def test_two_sections_are_added_build_by_build() -> None:
    builds = demo("heron").high
    both = builds.plate_watts("V1.1", "V1.2")
    assert both == pytest.approx(builds.plate_watts("V1.1") + builds.plate_watts("V1.2"))


def test_heat_of_a_resistor_is_volts_squared_over_ohms() -> None:
    builds = of(SUPPLY).high
    ohms = 10e3 * builds._found.builds.ohms["R1"]
    across = builds.volts("B1") - builds.volts("0V")
    # a little more with the ripple
    assert builds.resistor_watts("R1") == pytest.approx(across**2 / ohms, rel=1e-3)


def test_shares_of_the_builds() -> None:
    builds = of(BATTERY).high
    figures = np.arange(1000.0)
    assert builds.beyond(figures, 879.5) == pytest.approx(0.12)
    assert [builds.often(s) for s in (0.12, 0.004, 0.0, 1.0)] == [
        "in 12 % of builds",
        "in 1 % of builds",
        "in no build",
        "in every build",
    ]
    assert builds.band(figures) == pytest.approx((49.95, 499.5, 949.05))


def test_only_figures_near_their_limit_matter() -> None:
    spread = of(BATTERY)
    assert spread.matters(0.75, 1.0) and spread.matters(2.0, 1.0)
    assert not spread.matters(0.7, 1.0)


def test_builds_that_were_not_solved_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    solved = spreading.spread

    def loses(state: PeriodicState, builds: Builds) -> physics.Spread:
        return dataclasses.replace(solved(state, builds.chosen(np.arange(990))), lost=10)

    monkeypatch.setattr(spreading, "spread", loses)
    assert "10 of 1000 builds not solved (assumed)" in said(of(BATTERY).high)


def test_no_build_at_all_is_not_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    solved = spreading.spread
    nothing = np.arange(0)
    monkeypatch.setattr(spreading, "spread", lambda s, b: solved(s, b.chosen(nothing)))
    with pytest.raises(NotSolved, match="mains high: none of 1000 builds"):
        of(BATTERY).high  # noqa: B018 - asking is what raises


def test_a_matched_set_draws_alike() -> None:
    """Harbour's four output tubes are one set; what they differ by is the matching, and resistors."""
    builds = demo("harbour").nominal
    left, right = builds.plate_amperes("V2L"), builds.plate_amperes("V3R")
    assert "matched tubes within 5 %" in said(builds)
    assert float(np.ptp(left)) / float(np.median(left)) > 0.5  # the set as a whole is any set
    assert np.corrcoef(left, right)[0, 1] > 0.85
    unlike = builds.unlike(["V2L"], ["V3R"])
    assert np.array_equal(unlike, np.abs(left - right))
    assert builds.beyond(unlike / np.minimum(left, right), 0.25) < 0.01
    # not by the same factor in every build: a set is matched, not one tube twice
    assert float(np.median(unlike)) > 0.005 * float(np.median(left))
