"""What a grave rule must not let pass, or be silent on, for want of looking."""

from __future__ import annotations

import datetime
import math

from coldcheck.lint.engine.review import review_text, review_values
from coldcheck.lint.engine.stories import Scene
from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.live import high_nets, mains_nets
from coldcheck.lint.model import Review, Signal
from coldcheck.lint.read.positions import Positions
from coldcheck.lint.read.project import load
from documents import HEAD, design
from scenes import written

SUPPLY = """
[parts]
J1 = { kind = "inlet" }
F1 = { kind = "fuse", current = "250 mA", voltage = "250 V", speed = "T", breaking = "H", standard = "IEC 60127-2", sheet = 5 }
F2 = { kind = "fuse", current = "250 mA", voltage = "250 V", speed = "T", breaking = "H", standard = "IEC 60127-2", sheet = 5 }
R9 = { kind = "resistor", value = "10", power = "5 W", style = "wirewound" }
D1 = { kind = "bridge", voltage = "1200 V", current = "1 A" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "47u", voltage = "650 V" }
R1 = { kind = "resistor", value = "100k", power = "5 W", voltage = "750 V" }
E1 = { kind = "chassis bond" }
[parts.T1]
kind = "mains transformer"
primary = { voltage = "230 V", resistance = "20" }
windings.ht = { voltage = "175-0-175 V", current = "0.1 A", resistance = "30+30", no_load = "180-0-180 V" }
windings.bias = { voltage = "40 V", current = "50 mA", resistance = "12", no_load = "42 V" }
[schematic]
J1 = ["line", "neutral", "chassis"]
F1 = ["line", "fused"]
R9 = ["fused", "soft"]
T1 = { primary = ["soft", "neutral"], "ht.1" = "a", "ht.2" = "b", bias = ["c", "0V"] }
F2 = ["a", "a fused"]
D1 = ["a fused", "b", "B1", "0V"]
C1 = ["B1", "0V"]
R1 = ["B1", "0V"]
E1 = "0V"
"""
"""A whole tapped winding on a bridge, and a resistor that softens the switch-on."""


def reviewed(body: str, only: str) -> Review:
    """The review by one rule, which may not crash."""
    review = review_text((HEAD + body).encode(), "x", datetime.date(2026, 1, 31), [only])
    assert not review.crashes, review.crashes
    return review


def test_a_winding_whose_tap_is_not_used_gives_both_halves() -> None:
    found = {f.about.name: f.says for f in reviewed(SUPPLY, "mains/fuse-voltage").findings}
    assert found == {"F2": "F2 is rated 250 V and has 350 V to break"}
    tapped = SUPPLY.replace('"ht.2" = "b",', '"ht.2" = "b", "ht.ct" = "0V",').replace(
        'D1 = ["a fused", "b", "B1", "0V"]', 'D1 = ["a fused", "b", "B1", "minus"]'
    )
    assert not reviewed(tapped, "mains/fuse-voltage").findings


def test_a_winding_whose_tap_is_not_used_is_in_the_circuit() -> None:
    state = Study(design(SUPPLY)).get("Warm").nominal
    # 360 V rms without load, by a hand's sum: its peak, less two diodes and what C1 draws
    assert 480.0 < state.volts("B1") < 360.0 * math.sqrt(2.0)
    shorts = [case.name for case in Study(design(SUPPLY)).get("Faults").cases]
    assert "the ht winding of T1 shorted behind F2" in shorts


def test_the_mains_goes_on_behind_an_inrush_limiter() -> None:
    here = design(SUPPLY)
    schematic = Study(here).get("Schematic")
    assert mains_nets(here, schematic) == {"line", "fused", "soft", "neutral"}
    assert Study(here).get("MainsSide").primaries == ("T1",)


def test_mains_stops_at_what_is_touched() -> None:
    hot = design(SUPPLY + 'R8 = ["line", "0V"]\n' + '[parts.R8]\nkind = "resistor"\nvalue = "1M"\n')
    assert "0V" not in mains_nets(hot, Study(hot).get("Schematic"))


def test_forty_volts_of_ac_are_live() -> None:
    # 42.4 V at the peak is the most that may be touched: 30 V rms
    here = design(SUPPLY)
    assert "c" in high_nets(here, Study(here).get("Schematic"))


def test_no_assumed_figure_clears_an_overrated_fuse() -> None:
    stated = 'kind = "mains transformer"\n'
    loaded = SUPPLY.replace('value = "100k"', 'value = "10k"')
    weak = loaded.replace(stated, f'{stated}basis = "assumed"\n')
    assert reviewed(loaded, "mains/fuse-overrated").passes
    (gap,) = reviewed(weak, "mains/fuse-overrated").opens
    assert "not assumed or remembered" in gap.datum and "T1" in gap.datum


def test_a_supply_without_electrolytics_leaves_its_ground_open() -> None:
    film = SUPPLY.replace('dielectric = "electrolytic"', 'dielectric = "film"')
    (gap,) = reviewed(film, "ground/no-chassis-link").opens
    assert "signal ground" in gap.datum
    assert not reviewed(SUPPLY, "ground/no-chassis-link").opens


def test_unjudged_wiring_may_hide_a_danger() -> None:
    (gap,) = reviewed(SUPPLY, "wiring/joined-nets").opens
    assert gap.signal is Signal.DANGER


def test_the_body_of_a_potentiometer_can_be_touched() -> None:
    change = {"chassis.material": "wood", "parts.RV1.insulated": False}
    raw = Scene("", "", "lantern", (), change).apply(written("lantern")[0])
    ways = Study(load(raw, Positions(""), "lantern").design).get("Exposed").ways
    (body,) = [way for way in ways if way.metal.node == "RV1.body"]
    assert body.earthed is None


def test_a_heater_wired_in_no_known_way_is_not_passed_over() -> None:
    # all of its heater on one net: neither 4 and 5 against 9, nor 4 against 5
    change = {
        "parts.V1.type": "12AX7",
        "schematic.V1": {"4": "heater a", "5": "heater a", "9": "heater a"},
    }
    raw = Scene("", "", "lantern", (), change).apply(written("lantern")[0])
    review = review_values(
        raw, Positions(""), "x", datetime.date(2026, 1, 31), ["tubes/heater-voltage"]
    )
    assert [gap.about.name for gap in review.opens] == ["V1"]


def test_a_pulled_plug_discharges_nothing_by_way_of_neutral() -> None:
    # 1 Mohm leads from the line to earth, and neutral is joined to that at the supply alone
    mains = SUPPLY.replace("[parts.T1]", MAINS_CAPACITOR + "[parts.T1]") + (
        'C9 = ["fused", "neutral"]\nR7 = ["fused", "chassis"]\nS1 = ["soft", "primary"]\n'
    )
    mains = mains.replace('primary = ["soft",', 'primary = ["primary",')
    (found,) = reviewed(mains, "mains/plug-discharge").findings
    assert found.about.name == "C9" and "for good" in found.says


MAINS_CAPACITOR = """
C9 = { kind = "capacitor", dielectric = "film", value = "0.47u", voltage = "275 V", safety_class = "X2" }
R7 = { kind = "resistor", value = "1M", power = "1 W", voltage = "500 V" }
S1 = { kind = "switch", positions = { off = [], on = ["1-2"] }, voltage = "250 V", current = "2 A" }
"""
