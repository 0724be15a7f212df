"""What the rules of the signal's way ask for makes their findings go away, and is not much more."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest

from coldcheck.lint.engine.review import review_values
from coldcheck.lint.engine.stories import Scene
from coldcheck.lint.model import Finding
from coldcheck.schemas.quantity import parse
from scenes import TODAY, written


def found(rule: str, base: str, put: dict[str, Any]) -> tuple[Finding, ...]:
    raw, positions = copy.deepcopy(written(base))
    changed = Scene("", "", base, (), put).apply(raw)
    return review_values(changed, positions, f"{base}.toml", TODAY, (rule,)).findings


def asked(finding: Finding, pattern: str) -> str:
    match = re.search(pattern, finding.remedy)
    assert match is not None, finding.remedy
    return match.group(1)


def test_the_capacitor_asked_for_brings_the_bass() -> None:
    rule, put = "signal/bandwidth", {"claims": {"low": "60 Hz"}, "parts.C5.value": "4.7n"}
    (fail,) = found(rule, "lantern", put)
    larger = asked(fail, r"^([0-9.]+ [nu]F) for C5$")
    assert not found(rule, "lantern", put | {"parts.C5.value": larger})
    assert found(rule, "lantern", put | {"parts.C5.value": f"{parse(larger, 'F') / 2 * 1e9} nF"})


def test_the_inductance_asked_for_brings_the_bass() -> None:
    rule, put = "signal/bandwidth", {"claims": {"low": "45 Hz"}}
    (fail,) = found(rule, "lantern", put)
    times = float(asked(fail, r"^([0-9.]+) times the inductance of T2$"))
    more = {"parts.T2.primary.inductance": f"{14 * times:g} H"}
    assert not found(rule, "lantern", put | more)


@pytest.mark.parametrize("taper", ["audio", "linear"])
def test_the_resistor_asked_for_brings_full_power_to_half_the_turn(taper: str) -> None:
    rule = "signal/crowded-control"
    put = {"wires": {}, "leads": {}, "site.source.level": "9 V", "parts.RV1.taper": taper}
    (fail,) = found(rule, "lantern", put)
    resistor = {"kind": "resistor", "value": asked(fail, r"about ([0-9.]+ [kM]ohm)")}
    added = {"parts.R90": resistor, "schematic.J2": ["jack", "0V"], "schematic.R90": ["jack", "in"]}
    raw, positions = copy.deepcopy(written("lantern"))
    changed = Scene("", "", "lantern", (), put | added).apply(raw)
    (kept,) = review_values(changed, positions, "lantern.toml", TODAY, (rule,)).passes
    assert kept.value is not None and kept.value.value == pytest.approx(0.5, abs=0.02)


def test_the_gain_asked_for_of_a_preamplifier_is_enough() -> None:
    rule = "signal/too-small-source"
    (fail,) = found(rule, "harbour", {"site.source.level": "0.5 V"})
    gain = float(asked(fail, r"a gain of ([0-9.]+)"))
    assert not found(rule, "harbour", {"site.source.level": f"{0.5 * gain:.3g} V"})
    assert found(rule, "harbour", {"site.source.level": f"{0.5 * gain * 0.85:.3g} V"})


def test_less_feedback_is_steady() -> None:
    rule, ohms = "signal/feedback-stability", 300.0
    fails = found(rule, "harbour", {"channel.parts.R15.value": f"{ohms:g}"})
    times = max(float(asked(fail, r"([0-9.]+) times the resistance of R15")) for fail in fails)
    assert not found(rule, "harbour", {"channel.parts.R15.value": f"{times * ohms:.0f}"})


def test_a_winding_exchanged_as_asked_is_negative() -> None:
    rule = "signal/feedback-sign"
    turned: dict[str, Any] = {
        "primary.1": "plate b", "primary.ct": "B5", "primary.2": "plate a",
        "secondary.0": "speaker", "secondary.8": "0V",
    }  # fmt: skip
    fails = found(rule, "harbour", {"channel.schematic.T2": turned})
    assert {fail.about.name for fail in fails} == {"R15L", "R15R"}
    assert asked(fails[0], r"(secondary.0 and secondary.8)")
    for a, b in (("secondary.0", "secondary.8"), ("primary.1", "primary.2")):
        put = {"channel.schematic.T2": turned | {a: turned[b], b: turned[a]}}
        assert not found(rule, "harbour", put)


def test_the_coupling_capacitor_asked_for_recovers_in_time() -> None:
    rule = "signal/blocking"
    (fail,) = found(rule, "lantern", {"parts.C5.value": "1u"})
    farads = parse(asked(fail, r"^([0-9.]+ uF) for C5"), "F")
    assert not found(rule, "lantern", {"parts.C5.value": f"{0.99e6 * farads:g} uF"})
    assert found(rule, "lantern", {"parts.C5.value": f"{1.05e6 * farads:g} uF"})


def test_the_grid_leak_asked_for_bears_the_leakage() -> None:
    rule = "signal/leaky-coupling"
    paper = {"channel.parts.C5.dielectric": "paper", "channel.parts.C5.value": "0.33u"}
    share = float(asked(found(rule, "heron", paper)[0], r"([0-9.]+) times the grid leak"))
    less = f"{0.97 * share * 470e3:.0f}"
    assert not found(rule, "heron", paper | {"channel.parts.R8.value": less})


def test_the_tap_asked_for_fits() -> None:
    rule = "signal/load-mismatch"
    (fail, _other) = found(rule, "harbour", {"site.load.impedance": "4"})
    tap = asked(fail, r"the tap of ([0-9.]+) ohm")
    on_it = {
        "primary.1": "plate b",
        "primary.ct": "B5",
        "primary.2": "plate a",
        "secondary.0": "0V",
    }
    put = {
        "site.load.impedance": "4",
        "channel.schematic.T2": {**on_it, f"secondary.{tap}": "speaker"},
    }
    assert not found(rule, "harbour", put)
