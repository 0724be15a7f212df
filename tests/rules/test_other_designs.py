"""Designs unlike the demos: what an experienced builder would miss, or call wrong, in a report."""

from __future__ import annotations

import datetime

from coldcheck.lint.engine.review import review_text
from coldcheck.lint.engine.study import Study
from coldcheck.lint.model import Review
from documents import HEAD, design

TODAY = datetime.date(2026, 1, 31)
HOT = """
[parts]
J1 = { kind = "inlet" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "47u", voltage = "450 V" }
C2 = { kind = "capacitor", dielectric = "electrolytic", value = "47u", voltage = "800 V" }
D1 = { kind = "diode", voltage = "1000 V" }
D2 = { kind = "diode", voltage = "1000 V" }
[schematic]
J1 = { L = "line", N = "0V" }
C1 = ["double", "line"]
D1 = ["0V", "double"]
D2 = ["double", "B1"]
C2 = ["B1", "0V"]
"""
"""A half-wave doubler straight on the mains, neutral for ground."""

SUPPLY = """
[parts]
J1 = { kind = "inlet" }
D1 = { kind = "bridge", voltage = "1000 V", current = "1 A" }
D2 = { kind = "diode", voltage = "400 V", current = "1 A" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "47u", voltage = "450 V" }
C2 = { kind = "capacitor", dielectric = "electrolytic", value = "22u", voltage = "450 V" }
C3 = { kind = "capacitor", dielectric = "electrolytic", value = "100u", voltage = "100 V" }
C4 = { kind = "capacitor", dielectric = "electrolytic", value = "100u", voltage = "100 V" }
R1 = { kind = "resistor", value = "220k", power = "2 W", voltage = "500 V" }
R2 = { kind = "resistor", value = "1k", power = "2 W", voltage = "350 V" }
R3 = { kind = "resistor", value = "22k", power = "1 W", voltage = "350 V" }
R4 = { kind = "resistor", value = "220k", power = "2 W", voltage = "500 V" }
E1 = { kind = "chassis bond" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "20" }, windings.ht = { voltage = "200 V", current = "0.1 A", resistance = "30", no_load = "215 V" }, windings.bias = { voltage = "30 V", current = "50 mA", resistance = "12", no_load = "32 V" } }
[schematic]
J1 = ["line", "neutral", "chassis"]
T1 = { primary = ["line", "neutral"], ht = ["a", "b"], bias = ["c", "0V"] }
D1 = ["a", "b", "B1", "0V"]
C1 = ["B1", "0V"]
R1 = ["B1", "0V"]
R2 = ["B1", "B2"]
C2 = ["B2", "0V"]
R4 = ["B2", "0V"]
D2 = ["bias", "c"]
C3 = ["0V", "bias"]
C4 = ["0V", "bias"]
R3 = ["0V", "bias"]
E1 = "0V"
"""
"""A bridge, and a negative supply from a winding of its own whose two capacitors hang upside down."""

BATTERY = """
[parts]
G1 = { kind = "voltage source", voltage = "90 V", resistance = "20" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "100u", voltage = "160 V" }
R1 = { kind = "resistor", value = "220k", power = "1/2 W", voltage = "250 V" }
E1 = { kind = "chassis bond" }
[schematic]
G1 = ["B1", "0V"]
C1 = ["B1", "0V"]
R1 = ["B1", "0V"]
E1 = "0V"
"""


def reviewed(body: str, only: str = "") -> Review:
    """The review by one rule, or by all; no rule may crash."""
    review = review_text((HEAD + body).encode(), "x", TODAY, [only] if only else [])
    assert not review.crashes, review.crashes
    return review


def faults(body: str, only: str) -> dict[str, str]:
    """What one rule says, by subject."""
    return {finding.about.name: finding.says for finding in reviewed(body, only).findings}


def test_a_doublers_capacitor_is_not_to_be_turned_round() -> None:
    assert not faults(HOT, "ratings/capacitor-polarity")
    wrong = faults(
        HOT.replace('["double", "line"]', '["line", "double"]'), "ratings/capacitor-polarity"
    )
    assert set(wrong) == {"C1"}


def test_neutral_for_ground_spares_no_capacitor_its_bleeder() -> None:
    assert set(faults(HOT, "stored-energy/slow-discharge")) == {"C1", "C2"}
    assert not faults(SUPPLY, "stored-energy/slow-discharge")


def test_a_bias_supplys_negative_is_no_ground() -> None:
    assert Study(design(SUPPLY)).get("Schematic").ground() == {"0V"}
    assert not faults(SUPPLY, "ground/bare-ground-lift")
    # nor is what the only capacitor of a battery supply returns to when it is upside down
    reversed_ = BATTERY.replace('C1 = ["B1", "0V"]', 'C1 = ["0V", "B1"]')
    assert Study(design(reversed_)).get("Schematic").ground() == {"0V"}
    # ten ohm between two grounds is a ground lift, and both are ground
    lifted = SUPPLY.replace('E1 = "0V"', 'E1 = "0V"\nR5 = ["0V", "bias"]').replace(
        "[schematic]", 'R5 = { kind = "resistor", value = "10" }\n[schematic]'
    )
    assert Study(design(lifted)).get("Schematic").ground() == {"0V", "bias"}


def test_a_battery_needs_no_inlet() -> None:
    review = reviewed(BATTERY)
    assert not [f.datum for f in review.opens if "inlet" in f.datum]
    assert {"mains/fuse-place", "earth/hot-chassis"} <= set(review.not_applicable)
    # but what has a mains transformer was meant to have one
    transformer = 'T1 = { kind = "mains transformer", primary.voltage = "230 V", windings.ht.voltage = "90 V" }'
    fed = reviewed(BATTERY.replace("[schematic]", f"{transformer}\n[schematic]"))
    assert "mains/fuse-place" in {f.rule for f in fed.opens if "inlet" in f.datum}


def test_a_lone_net_is_not_taken_for_its_twin() -> None:
    lone = BATTERY.replace(
        "[schematic]",
        """C2 = { kind = "capacitor", dielectric = "film", value = "1u" }
[schematic]
C2 = ["out L", "B1"]""",
    )
    twin = lone + 'R2 = ["out R", "0V"]\n'
    twin = twin.replace("[schematic]", 'R2 = { kind = "resistor", value = "1k" }\n[schematic]')
    remedies = [f.remedy for f in reviewed(twin, "wiring/lone-net").findings]
    assert len(remedies) == 2 and not [text for text in remedies if "is meant" in text]


def test_everything_a_transformer_lacks_is_said_at_once() -> None:
    bare = SUPPLY.replace(', resistance = "20"', "")
    bare = bare.replace(', resistance = "30", no_load = "215 V"', "")
    bare = bare.replace(
        "[schematic]",
        """L1 = { kind = "choke", inductance = "10 H" }
[schematic]
L1 = ["B2", "B3"]""",
    )
    (datum,) = {f.datum for f in reviewed(bare, "ratings/capacitor-polarity").opens}
    assert datum == (
        "the winding resistance of L1; primary resistance, resistance of the ht winding of T1"
    )


def test_a_battery_fuse_is_held_to_the_battery() -> None:
    fused = BATTERY.replace('G1 = ["B1", "0V"]', 'G1 = ["B0", "0V"]\nF1 = ["B0", "B1"]').replace(
        "[schematic]", 'F1 = { kind = "fuse", current = "100 mA", voltage = "32 V" }\n[schematic]'
    )
    assert "90 V to break" in faults(fused, "mains/fuse-voltage")["F1"]
    assert not faults(fused.replace('"32 V"', '"125 V"'), "mains/fuse-voltage")


def test_each_capacitor_of_a_doubler_is_shorted_in_turn() -> None:
    doubler = """
[parts]
J1 = { kind = "inlet" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "22" }, windings.ht = { voltage = "125 V", resistance = "11", no_load = "135 V" } }
D1 = { kind = "diode" }
D2 = { kind = "diode" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "100u" }
C2 = { kind = "capacitor", dielectric = "electrolytic", value = "100u" }
[schematic]
J1 = ["line", "neutral", "chassis"]
T1 = { primary = ["line", "neutral"], ht = ["a", "b"] }
D1 = ["a", "B1"]
D2 = ["0V", "a"]
C1 = ["B1", "b"]
C2 = ["b", "0V"]
"""
    cases = Study(design(doubler)).get("Faults").cases
    assert [case.name for case in cases] == [
        "the ht winding of T1 shorted",
        "D1 shorted",
        "D2 shorted",
        "C1 shorted",
        "C2 shorted",
    ]
    # one diode straight across the winding: half the cycles, so less than the winding shorted
    winding, _d1, _d2, *halves = (case.primary["T1"] for case in cases)
    assert all(0.5 * winding < half < 0.9 * winding for half in halves)


def test_a_tube_rating_nobody_knows_says_where_to_write_it() -> None:
    stage = BATTERY.replace(
        "[schematic]",
        """V1 = { kind = "tube", type = "12AT7" }
R2 = { kind = "resistor", value = "47k" }
R3 = { kind = "resistor", value = "470" }
[schematic]
V1 = { 6 = "plate", 7 = "0V", 8 = "cathode" }
R2 = ["B1", "plate"]
R3 = ["cathode", "0V"]""",
    )
    (datum,) = {f.datum for f in reviewed(stage, "tubes/cathode-current").opens}
    assert datum == 'the cathode current a 12AT7 is rated for: cathode_amperes in [tubes."12AT7"]'
    entry = '[tubes."12AT7"]\nlike = "12AT7"\nsource = "its sheet"\ncathode_amperes = "15 mA"\n'
    assert reviewed(stage + "\n" + entry, "tubes/cathode-current").passes


def test_a_push_pull_fuse_is_chosen_by_what_the_transformer_gives() -> None:
    """At idle this one draws far less than at full drive: 60 VA at 230 V are 261 mA."""
    output = 'T2 = { kind = "output transformer", centre_tap = true, primary = { impedance = "8k", resistance = "300" }, secondary = { taps = ["0", "8"] } }\n'
    fuse = 'F1 = { kind = "fuse", current = "500 mA", voltage = "250 V" }\n'
    single = SUPPLY.replace("[schematic]", f"{fuse}[schematic]").replace(
        'J1 = ["line"', 'F1 = ["inlet", "line"]\nJ1 = ["inlet"'
    )
    single = single.replace(
        '{ kind = "mains transformer",', '{ kind = "mains transformer", rating = "60 VA",'
    )
    pair = (
        single.replace("[schematic]", f"{output}[schematic]")
        + 'T2 = { primary = ["a1", "B2", "a2"], secondary = ["0V", "out"] }\n'
    )
    assert set(faults(single, "mains/fuse-overrated")) == {"F1"}
    assert not faults(pair, "mains/fuse-overrated")
    far = faults(pair.replace('current = "500 mA"', 'current = "2 A"'), "mains/fuse-overrated")
    assert "made for 261 mA" in far["F1"]


def test_a_loop_between_two_places_has_no_area_to_tell() -> None:
    wired = (
        BATTERY.replace(
            "[schematic]",
            """J2 = { kind = "connector", role = "input", contacts = ["tip", "sleeve"], shell = "sleeve" }
[schematic]
J2 = ["B1", "0V"]""",
        )
        + """
[chassis]
material = "aluminium"
sheet = "1.5 mm"
width = "200 mm"
depth = "120 mm"
height = "50 mm"
[wire_types]
hookup = { size = "22 AWG", style = "UL1015" }
[layout]
J2 = { on = "rear", at = [30, 25] }
E1 = { at = [20, 20], side = "inside" }
[wires]
W1 = { run = ["J2.sleeve", "E1"], type = "hookup", length = "100 mm" }
"""
    )
    (said,) = faults(wired, "ground/loop").values()
    assert said.startswith("J2 closes a loop as wide as its wires run off the straight")
