"""What the rules of full drive and of the supply ask for makes their findings go away."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest

from coldcheck.lint.engine.review import review_values
from coldcheck.lint.engine.stories import Scene, story
from coldcheck.lint.model import Finding
from coldcheck.schemas.quantity import parse
from scenes import TODAY, written


def found(rule: str, base: str, put: dict[str, Any], without: tuple[str, ...] = ()) -> Any:
    raw, positions = copy.deepcopy(written(base))
    changed = Scene("", "", base, without, put).apply(raw)
    return review_values(changed, positions, f"{base}.toml", TODAY, (rule,)).findings


def number(finding: Finding, pattern: str) -> str:
    match = re.search(pattern, finding.remedy)
    assert match is not None, finding.remedy
    return match.group(1)


def test_the_screen_resistor_asked_for_will_do() -> None:
    rule = "tubes/driven-screen"
    (fail,) = found(rule, "lantern", {"parts.R11.value": "100"})
    more = parse(number(fail, r"([0-9.]+ k?ohm) more"), "ohm")
    assert not found(rule, "lantern", {"parts.R11.value": f"{100 + more:.0f}"})
    # and not absurdly large: a third of it would not do
    assert found(rule, "lantern", {"parts.R11.value": f"{100 + more / 3:.0f}"})


def test_the_load_asked_for_will_do() -> None:
    """More ohms for the plates of a stage that idles cold."""
    rule = "tubes/driven-plate"
    scene = next(s for s in (story(rule) or pytest.fail("no story")).scenes if s.reports)
    before = found(rule, scene.base, dict(scene.put))
    times = max(float(number(fail, r"load of ([0-9.]+) times")) for fail in before)
    put = dict(scene.put) | {"channel.parts.T2.primary.impedance": f"{3300 * times:.0f}"}
    assert not [f for f in found(rule, scene.base, put) if f.signal.name == "CAUTION"]


@pytest.mark.parametrize("farads", [10.0, 22.0])
def test_the_smoothing_asked_for_will_do(farads: float) -> None:
    rule = "supply/ripple"
    (fail,) = found(rule, "lantern", {"parts.C2.value": f"{farads:g} uF"})
    times = float(number(fail, r"([0-9.]+) times the capacitance at B2"))
    assert not found(rule, "lantern", {"parts.C2.value": f"{1.05 * times * farads:.3g} uF"})
    assert found(rule, "lantern", {"parts.C2.value": f"{0.9 * times * farads:.3g} uF"})


def test_the_resistance_asked_for_quiets_a_choke() -> None:
    rule = "supply/choke-swing"
    choke = {"kind": "choke", "inductance": "2 H", "current": "50 mA", "insulation": "1 kV"}
    (fail,) = found(rule, "heron", {"parts.R1": choke | {"resistance": "15"}})
    more = parse(number(fail, r"([0-9.]+ k?ohm) in series"), "ohm")
    assert not found(rule, "heron", {"parts.R1": choke | {"resistance": f"{15 + 1.1 * more:.3g}"}})
    assert found(rule, "heron", {"parts.R1": choke | {"resistance": f"{15 + 0.5 * more:.3g}"}})


def test_the_capacitance_asked_for_stops_motorboating() -> None:
    rule = "supply/motorboating"
    scene = next(s for s in (story(rule) or pytest.fail("no story")).scenes if s.reports)
    (fail,) = found(rule, scene.base, dict(scene.put), scene.without)
    times = float(number(fail, r"([0-9.]+) times the capacitance at B3"))
    put = dict(scene.put) | {"parts.C3.value": f"{22 * times:g} uF"}
    assert not found(rule, scene.base, put, scene.without)


def test_the_resistance_asked_for_holds_the_supply_up() -> None:
    rule = "supply/sag"
    ahead = {"parts.R3.value": 3300.0, "parts.R2.value": 47.0}
    ahead |= {"parts.T1.windings.ht.resistance": 8.5, "parts.T1.primary.resistance": 2.6}
    put: dict[str, Any] = {"parts.R3.value": "3k3"}
    (fail,) = found(rule, "harbour", put)
    share = float(number(fail, r"([0-9.]+) times the resistance"))
    assert 0.5 < share < 1.0
    assert not found(rule, "harbour", {k: f"{0.9 * share * v:.4g}" for k, v in ahead.items()})
    assert found(rule, "harbour", {k: f"{1.1 * share * v:.4g}" for k, v in ahead.items()})
