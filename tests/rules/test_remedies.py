"""A remedy is worth its number only if following it makes the finding go away."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest

from coldcheck.lint.engine.review import review_values
from coldcheck.lint.engine.stories import story
from coldcheck.lint.model import Finding, Review
from coldcheck.schemas.quantity import parse
from scenes import TODAY, written


def reviewed(raw: Any, *only: str) -> Review:
    return review_values(raw, written("lantern")[1], "lantern.toml", TODAY, only)


def changed(**values: Any) -> Any:
    raw = copy.deepcopy(written("lantern")[0])
    for dotted, value in values.items():
        table, ref, *key = dotted.split("__")
        if value is None:
            del raw[table][ref]
        elif key:
            raw[table][ref][key[0]] = value
        else:
            raw[table][ref] = value
    return raw


def number(finding: Finding, unit: str) -> float:
    found = re.search(rf"[0-9.]+ [kMmu]?{unit}", finding.remedy)
    assert found is not None, finding.remedy
    return parse(found.group(), unit)


BARE = {
    f"{table}__{ref}": None for ref in ("R1", "R3") for table in ("parts", "schematic", "leads")
}


@pytest.mark.parametrize(("cap", "net"), [("C1", "B1"), ("C2", "B2"), ("C3", "B3")])
def test_the_bleeder_asked_for_is_small_enough(cap: str, net: str) -> None:
    rule = "stored-energy/slow-discharge"
    before = {f.about.name: f for f in reviewed(changed(**BARE), rule).findings}
    assert set(before) == {"C1", "C2", "C3"}
    ohms = number(before[cap], "ohm")
    bleeder = {"kind": "resistor", "value": f"{ohms:.0f} ohm", "power": "5 W", "voltage": "750 V"}
    across = written("lantern")[0]["leads"][cap]
    mended = changed(**BARE, parts__R90=bleeder, schematic__R90=[net, "0V"], leads__R90=across)
    after = {f.about.name for f in reviewed(mended, rule).findings}
    assert cap not in after
    # and not absurdly small: five times as much would not do
    bleeder = bleeder | {"value": f"{5 * ohms:.0f} ohm"}
    across = written("lantern")[0]["leads"][cap]
    mended = changed(**BARE, parts__R90=bleeder, schematic__R90=[net, "0V"], leads__R90=across)
    assert cap in {f.about.name for f in reviewed(mended, rule).findings}


@pytest.mark.parametrize("rule", ["mains/fuse-overrated", "mains/fuse-clears"])
def test_the_fuse_asked_for_will_do(rule: str) -> None:
    fails = reviewed(changed(parts__F1__current="1.6 A"), rule).findings
    assert fails
    rating = min(number(finding, "A") for finding in fails)
    assert not reviewed(changed(parts__F1__current=f"{rating:g} A"), rule).findings


def test_the_resistor_power_asked_for_will_do() -> None:
    rule = "ratings/resistor-power"
    (fail,) = reviewed(changed(parts__R10__power="1/4 W"), rule).findings
    watts = number(fail, "W")
    assert not reviewed(changed(parts__R10__power=f"{watts * 1.01:.3g} W"), rule).findings


def test_the_first_capacitor_asked_for_will_do() -> None:
    rule = "tubes/rectifier-supply"
    (fail,) = reviewed(changed(parts__C1__value="68u"), rule).findings
    farads = number(fail, "F")
    assert not reviewed(changed(parts__C1__value=f"{farads * 1e6:g} uF"), rule).findings


def test_more_than_ten_joules_raises_the_rank() -> None:
    rule = "stored-energy/slow-discharge"
    ranks = []
    for farads in ("100u", "220u"):
        found = reviewed(changed(parts__C1__value=farads, parts__R1__value="1M"), rule).findings
        fail = next(finding for finding in found if finding.about.name == "C1")
        assert fail.value is not None and fail.limit is not None
        plain = 100.0 - 50.0 / (fail.value.value / fail.limit.figure.value)
        ranks.append((fail.rank, round(plain, 1)))
    (small, small_plain), (large, large_plain) = ranks
    assert small == small_plain  # 6.7 J at 367 V
    assert large > large_plain  # 14.8 J


def test_the_resistance_asked_for_keeps_a_shorted_capacitor_from_a_hand() -> None:
    """earth/shorted-coupling, by the scene of its own story."""
    scene = next(scene for scene in story("earth/shorted-coupling").fires)
    raw = scene.apply(written("lantern")[0])
    (before,) = reviewed(raw, "earth/shorted-coupling").findings
    raw["parts"]["R90"] = {"kind": "resistor", "power": "5 W", "voltage": "750 V"}
    raw["schematic"] |= {"J4": ["tip", "0V"], "R90": ["tape", "tip"]}
    for share, left in ((1.02, False), (0.9, True)):
        raw["parts"]["R90"]["value"] = f"{share * number(before, 'ohm'):.0f} ohm"
        assert bool(reviewed(raw, "earth/shorted-coupling").findings) is left
