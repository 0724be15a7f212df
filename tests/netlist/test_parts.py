"""Transistors, regulators, gas tubes and the like as the netlist writes them, by name and value."""

from __future__ import annotations

import math
from typing import Any

import pytest

from coldcheck.lint.model import Basis, Missing
from coldcheck.lint.netlist import Netlist, Setting, netlist
from coldcheck.lint.physics.circuit import Bipolar, GlowTube, Mosfet, Regulator, Resistor, Source
from coldcheck.schemas.reference import fact, tube
from documents import design

FEED = """
G1 = { kind = "voltage source", voltage = "100 V", resistance = "1" }
[schematic]
G1 = ["B1", "0V"]
"""
WARM, COLD = Setting(230.0), Setting(230.0, cold=True)


def written(part: str, ends: str, setting: Setting = WARM) -> Netlist:
    ref = part.partition(" ")[0]
    return netlist(design(f"[parts]\n{part}{FEED}{ref} = {ends}\n"), setting)


def element(found: Netlist, name: str) -> Any:
    (one,) = [one for one in found.circuit.elements if one.name == name]
    return one


BIPOLAR = (
    'Q1 = { kind = "bipolar transistor", polarity = "npn", gain = 120, base_voltage = "0.65 V", '
    'test_current = "10 mA" }'
)


def test_a_bipolar_transistor_has_its_current_at_its_base_voltage() -> None:
    q = element(written(BIPOLAR, '["B1", "b", "0V"]'), "Q1")
    assert isinstance(q, Bipolar)
    assert (q.collector, q.base, q.emitter) == ("B1", "b", "0V")
    assert q.saturation * math.expm1(0.65 / q.slope) == pytest.approx(0.010)
    assert (q.gain, q.polarity) == (120.0, 1)
    pnp = element(written(BIPOLAR.replace("npn", "pnp"), '["0V", "b", "B1"]'), "Q1")
    assert pnp.polarity == -1


def test_what_a_transistor_lacks_is_missed_at_once() -> None:
    part = 'Q1 = { kind = "bipolar transistor", polarity = "npn", gain = 120 }'
    with pytest.raises(Missing, match="base-emitter voltage, the collector current") as caught:
        written(part, '["B1", "b", "0V"]')
    assert caught.value.where == ("parts", "Q1", "base_voltage")


MOSFET = (
    'Q1 = { kind = "mosfet", channel = "n", threshold = "3.5 V", transconductance = "2 A/V", '
    'test_current = "1 A" }'
)


def test_a_mosfet_has_its_transconductance_at_its_current() -> None:
    q = element(written(MOSFET, '["g", "B1", "s"]'), "Q1")
    assert isinstance(q, Mosfet)
    assert (q.gate, q.drain, q.source, q.threshold) == ("g", "B1", "s", 3.5)
    # of the square law: where half K (vgs - vt)^2 is the current, K (vgs - vt) is its slope
    over = math.sqrt(2.0 * 1.0 / q.steepness)
    assert q.steepness * over == pytest.approx(2.0)
    assert q.polarity == 1
    p = element(written(MOSFET.replace('"n"', '"p"'), '["g", "0V", "B1"]'), "Q1")
    assert (p.threshold, p.polarity) == (3.5, -1)


def test_a_depletion_mosfet_has_its_threshold_below_zero() -> None:
    q = element(written(MOSFET.replace("3.5 V", "-2 V"), '["g", "B1", "s"]'), "Q1")
    assert q.threshold == -2.0
    zero = element(written(MOSFET.replace("3.5 V", "0 V"), '["g", "B1", "s"]'), "Q1")
    assert zero.threshold == 0.0


@pytest.mark.parametrize("key", ["threshold", "transconductance", "test_current"])
def test_what_a_mosfet_lacks_is_named(key: str) -> None:
    fields = MOSFET.removesuffix(" }").split(", ")
    part = ", ".join(field for field in fields if not field.startswith(key)) + " }"
    with pytest.raises(Missing) as caught:
        written(part, '["g", "B1", "s"]')
    assert caught.value.where == ("parts", "Q1", key)


REGULATOR = 'U1 = { kind = "regulator", voltage = "12 V", current = "1 A", quiescent = "5 mA", dropout = "2 V" }'


def test_a_regulator_is_written_by_its_data_sheet() -> None:
    found = written(REGULATOR, '["B1", "out", "0V"]')
    assert element(found, "U1") == Regulator(
        "U1", "B1", "out", "0V", 12.0, 0.02, 2.0, 1.0, 0.005, 1
    )
    assert found.data == ()
    negative = element(written(REGULATOR.replace('"12 V"', '"-12 V"'), '["B1", "o", "0V"]'), "U1")
    assert (negative.volts, negative.polarity) == (12.0, -1)


def test_an_assumed_dropout_is_noted_and_the_rest_is_missed() -> None:
    found = written(REGULATOR.replace(', dropout = "2 V"', ""), '["B1", "out", "0V"]')
    assert element(found, "U1").dropout == 2.0
    assert ("dropout voltage of U1", Basis.ASSUMED) in found.data
    with pytest.raises(Missing, match="the most current, the current out of the common terminal"):
        written('U1 = { kind = "regulator", voltage = "12 V" }', '["B1", "out", "0V"]')


def test_a_figure_the_document_assumes_is_a_weak_one() -> None:
    part = MOSFET.replace(" }", ', basis = { threshold = "assumed" } }')
    assert written(part, '["g", "B1", "s"]').data == (("threshold voltage of Q1", Basis.ASSUMED),)


def test_a_transistor_by_its_leads_draws_what_is_declared() -> None:
    part = 'Q1 = { kind = "transistor", leads = ["c", "b", "e"], current = "10 mA" }'
    assert element(written(part, '["B1", "b", "0V"]'), "Q1").amperes == 0.01


@pytest.mark.parametrize("name", ["0A2", "85A2", "0D3"])
def test_a_gas_filled_tube_strikes_at_its_starting_voltage(name: str) -> None:
    kind = tube(name)
    assert kind is not None
    part = f'V1 = {{ kind = "tube", type = "{name}" }}'
    found = written(part, '{ anode = "B1", cathode = "0V" }')
    glow = element(found, "V1")
    assert isinstance(glow, GlowTube)
    assert (glow.anode, glow.cathode) == ("B1", "0V")
    assert glow.volts == kind.limits["regulated_volts"].value
    assert glow.strikes == kind.limits["starting_volts"].value > glow.volts
    weak = Basis(kind.limits["starting_volts"].basis).weak
    assert any("strikes" in datum.what for datum in found.data) == weak


def test_an_inrush_limiter_is_cold_at_switch_on_and_hot_after() -> None:
    part = 'RT1 = { kind = "thermistor", cold = "10", hot = "0.2" }'
    assert element(written(part, '["B1", "0V"]'), "RT1") == Resistor("RT1", "B1", "0V", 0.2)
    assert element(written(part, '["B1", "0V"]', COLD), "RT1").ohms == 10.0
    unknown = part.replace(', hot = "0.2"', "")
    assert element(written(unknown, '["B1", "0V"]', COLD), "RT1").ohms == 10.0
    with pytest.raises(Missing, match="resistance, when hot, of RT1") as caught:
        written(unknown, '["B1", "0V"]')
    assert caught.value.where == ("parts", "RT1", "hot")


OFF = [
    ('Q1 = { kind = "bipolar transistor", polarity = "npn" }', '["B1", "b", "0V"]'),
    ('Q1 = { kind = "mosfet", channel = "n" }', '["g", "B1", "s"]'),
    ('U1 = { kind = "regulator", voltage = "12 V" }', '["B1", "out", "0V"]'),
]


@pytest.mark.parametrize(("part", "ends"), OFF)
def test_with_the_mains_off_transistors_drain_nothing_and_lack_nothing(
    part: str, ends: str
) -> None:
    found = written(part, ends, Setting(None))
    assert {one.name for one in found.circuit.elements} == {"G1", "G1.ohms"}


def test_a_cold_lamp_has_a_share_of_its_resistance() -> None:
    part = 'H1 = { kind = "lamp", voltage = "6.3 V", current = "150 mA" }'
    warm = element(written(part, '["B1", "0V"]'), "H1").ohms
    cold = element(written(part, '["B1", "0V"]', COLD), "H1").ohms
    assert warm == pytest.approx(42.0)
    assert warm / cold == pytest.approx(fact("fuses", "lamp_inrush_least_ratio").value)


def test_a_preset_stands_where_it_is_left_unless_it_is_turned() -> None:
    part = 'RV1 = { kind = "potentiometer", value = "10k", setting = "30 %" }'
    ends = '["0V", "w", "B1"]'
    assert element(written(part, ends), "RV1.ccw").ohms == pytest.approx(3e3)
    turned = Setting(230.0, wipers={"RV1": 0.8})
    assert element(written(part, ends, turned), "RV1.ccw").ohms == pytest.approx(8e3)
    plain = 'RV1 = { kind = "potentiometer", value = "10k" }'
    assert element(written(plain, ends), "RV1.ccw").ohms == pytest.approx(5e3)


def test_a_cord_brings_the_mains_in_as_an_inlet_does() -> None:
    ends = '["line", "0V", "earth"]'
    cord, inlet = (
        written(f'J1 = {{ kind = "{kind}" }}', ends).circuit for kind in ("cord", "inlet")
    )
    assert cord == inlet
    assert any(isinstance(one, Source) and one.name == "J1.L" for one in cord.elements)
