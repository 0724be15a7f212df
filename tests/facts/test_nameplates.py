"""Taps, twin primaries, fixed cords and regulators as the facts see them."""

from __future__ import annotations

import pytest

from coldcheck.lint.engine.study import Study
from documents import design

PARTS = """
[parts]
J1 = {{ kind = "{entry}" }}
E1 = {{ kind = "chassis bond" }}
S1 = {{ kind = "switch", positions = {{ 115 = ["1-2", "3-4"], 230 = ["5-6", "7-8", "9-10"] }} }}
D1 = {{ kind = "bridge", voltage = "1000 V", current = "1 A" }}
C1 = {{ kind = "capacitor", dielectric = "electrolytic", value = "47u", voltage = "400 V" }}
R1 = {{ kind = "resistor", value = "22k" }}
C2 = {{ kind = "capacitor", dielectric = "film", value = "0.1u", voltage = "275 V", safety_class = "X2" }}
T1 = {{ kind = "mains transformer", primary = {{ {primary} }}, rating = "40 VA", windings.ht = {{ voltage = "200 V", current = "0.1 A", resistance = "30", no_load = "215 V" }} }}
[schematic]
J1 = ["line", "neutral", "chassis"]
E1 = "0V"
C2 = ["line", "neutral"]
T1 = {{ primary = {nets}, ht = ["a", "b"] }}
D1 = ["a", "b", "B1", "0V"]
C1 = ["B1", "0V"]
R1 = ["B1", "0V"]
{more}
"""
ONE, TWIN = 'voltage = "230 V", resistance = "20"', 'voltage = "2 x 115 V", resistance = "10+10"'
TAPPED = 'voltage = "0-115-230 V", resistance = "10+10"'
IN_SERIES = '["line", "mid", "mid", "neutral"]'
IN_PARALLEL = '["line", "neutral", "line", "neutral"]'
WRONG_TAP = '["line", "neutral", "t", "line", "u", "neutral"]'
SELECTED = '["line", "x", "y", "neutral"]'
SELECTOR = 'S1 = { 1 = "line", 2 = "y", 3 = "x", 4 = "neutral", 5 = "x", 6 = "link", 7 = "link", 8 = "y", 9 = "p", 10 = "q" }'


def study(primary: str, nets: str, more: str = "", entry: str = "inlet") -> Study:
    body = PARTS.format(primary=primary, nets=nets, more=more, entry=entry)
    if not more:
        body = "\n".join(line for line in body.split("\n") if not line.startswith("S1"))
    return Study(design(body))


MADE_FOR = [
    (ONE, '["line", "neutral"]', "", 230.0),
    (TWIN, IN_SERIES, "", 230.0),
    (TWIN, IN_PARALLEL, "", 115.0),
    (TWIN, '["line", "neutral", "s", "t"]', "", 115.0),
    (TAPPED, '["line", "neutral", "spare"]', "", 115.0),
    (TAPPED, '["line", "spare", "neutral"]', "", 230.0),
    (TAPPED, '["spare", "line", "neutral"]', "", 115.0),
    # the selector joins the most at 230
    (TWIN, SELECTED, SELECTOR, 230.0),
]


@pytest.mark.parametrize(("primary", "nets", "more", "volts"), MADE_FOR)
def test_what_mains_a_primary_is_made_for(primary: str, nets: str, more: str, volts: float) -> None:
    side = study(primary, nets, more).get("MainsSide")
    assert side.made_for == {"T1": volts}
    assert not side.opposed


def test_what_stands_across_the_mains_is_not_in_line() -> None:
    more = 'R9 = ["line", "neutral"]\n[parts.R9]\nkind = "resistor"\nvalue = "470k"'
    side = study(TWIN, IN_SERIES, more).get("MainsSide")
    assert side.made_for == {"T1": 230.0} and not side.opposed


@pytest.mark.parametrize(
    ("primary", "nets"),
    [
        (TWIN, '["line", "mid", "neutral", "mid"]'),  # in series, they cancel
        (TWIN, '["line", "neutral", "neutral", "line"]'),  # in parallel, they short each other
        (TAPPED, '["line", "neutral", "line"]'),  # both ends of a tapped one, on one conductor
        ('voltage = "2 x 0-115-230 V", resistance = "5+5+5+5"', WRONG_TAP),
    ],
)
def test_sections_that_work_against_each_other(primary: str, nets: str) -> None:
    assert study(primary, nets).get("MainsSide").opposed == {"T1"}


def test_a_short_is_as_strong_behind_two_primaries_as_behind_one() -> None:
    """In series, 230 V across 20 ohm either way; both coils carry the same current."""
    one = study(ONE, '["line", "neutral"]').get("Faults")
    twin = study(TWIN, IN_SERIES).get("Faults")
    for case, other in zip(one.cases, twin.cases, strict=True):
        assert case.name == other.name
        assert case.primary["T1"] == pytest.approx(other.primary["T1"], rel=1e-6)


def test_every_piece_of_a_secondary_is_shorted_in_turn() -> None:
    body = PARTS.format(primary=ONE, nets='["line", "neutral"]', more="", entry="inlet")
    body = body.replace('voltage = "200 V", current = "0.1 A", resistance = "30"', PAIR)
    body = body.replace('"215 V"', '"2 x 108 V"').replace(
        'ht = ["a", "b"]', 'ht = ["a", "m", "n", "b"]'
    )
    body = "\n".join(line for line in body.split("\n") if not line.startswith("S1"))
    found = Study(design(body))
    names = [case.name for case in found.get("Faults").cases]
    assert names.count("the ht winding of T1 shorted") == 2
    # two windings alike are joined by nothing but the core
    schematic = found.get("Schematic")
    assert "n" not in schematic.dc("m")
    assert [s.nets for s in schematic.of("T1") if s.name == "ht"] == [("a", "m"), ("n", "b")]


PAIR = 'voltage = "2 x 100 V", current = "0.1 A", resistance = "15+15"'


def test_a_capacitor_across_the_mains_drains_through_both_primaries() -> None:
    """0.1 uF into 20 ohm in series, or into 5 ohm: the times are as the resistances."""
    series = study(TWIN, IN_SERIES).get("MainsCapacitors").slowest("C2", 34.0)[0]
    parallel = study(TWIN, IN_PARALLEL).get("MainsCapacitors").slowest("C2", 34.0)[0]
    assert series == pytest.approx(4.0 * parallel, rel=1e-3)
    assert 0.0 < series < 1e-4


def test_a_cord_is_a_way_in_for_the_mains_as_an_inlet_is() -> None:
    cord, inlet = (
        study(ONE, '["line", "neutral"]', entry=entry).get("MainsSide")
        for entry in ("cord", "inlet")
    )
    assert cord.nets == inlet.nets == {"line", "neutral"}
    assert cord.inlet.ref == "J1"


CORDED = """
[parts]
J1 = { kind = "cord", conductor = "0.75 mm2" }
E1 = { kind = "chassis bond", fixing = "own screw" }
TB1 = { kind = "terminal strip", lugs = 3 }
[schematic]
J1 = ["line", "neutral", "earth"]
E1 = "earth"
[chassis]
material = "steel"
sheet = "1 mm"
width = "200 mm"
depth = "100 mm"
height = "50 mm"
[leads]
J1 = ["TB1.1", "TB1.2", "E1"]
[wire_types]
thin = { size = "22 AWG" }
[wires]
W1 = { run = ["TB1.1", "TB1.2"], type = "thin" }
"""


def test_the_earth_conductor_of_a_cord_is_a_protective_way() -> None:
    (chassis,) = Study(design(CORDED)).get("Exposed").ways
    assert chassis.earthed is not None
    assert [link.name for link in chassis.earthed] == ["J1.PE lead", "E1.lug bond"]
    swapped = CORDED.replace('"TB1.2", "E1"]', '"E1", "TB1.2"]')
    (adrift,) = Study(design(swapped)).get("Exposed").ways
    assert adrift.earthed is None


SERIES_PASS = """
[parts]
J1 = { kind = "inlet" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V" }, windings.ht = { voltage = "200 V" } }
D1 = { kind = "diode" }
Q1 = { kind = "mosfet", channel = "n" }
U1 = { kind = "regulator", voltage = "12 V" }
R1 = { kind = "resistor", value = "1M" }
RT1 = { kind = "thermistor", cold = "10" }
[schematic]
J1 = ["line", "neutral", "chassis"]
RT1 = ["line", "soft"]
T1 = { primary = ["soft", "neutral"], ht = ["a", "0V"] }
D1 = ["a", "B1"]
Q1 = { gate = "g", drain = "B1", source = "B2" }
R1 = ["B1", "g"]
U1 = ["B2", "B3", "0V"]
"""


def test_transistors_and_regulators_hand_on_what_feeds_them() -> None:
    found = Study(design(SERIES_PASS))
    schematic = found.get("Schematic")
    assert {"B1", "B2", "B3"} <= schematic.fed("a")
    assert "B2" not in schematic.dc("B1")
    assert {"B2", "B3"} <= schematic.drains("B1", "V1")
    # a thermistor in the line is a resistor in the line
    assert found.get("MainsSide").nets == {"line", "soft", "neutral"}


def test_high_voltage_is_followed_past_a_pass_transistor() -> None:
    from coldcheck.lint.facts.live import high_nets

    found = Study(design(SERIES_PASS))
    assert {"B1", "B2", "B3", "g"} <= high_nets(found.get("Design"), found.get("Schematic"))
