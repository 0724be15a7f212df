"""Heater hum of the demos, way by way, against sums by hand and with the wiring changed."""

from __future__ import annotations

import math

import pytest

from coldcheck.lint.facts.heater_coupling import (
    CLEAR,
    DRESS,
    HEATER_CATHODE,
    IN_BULB,
    LEAK,
    TWIST_LEFT,
    UNEVEN,
    WALL,
    HeaterCoupling,
    HeaterHum,
)
from coldcheck.lint.physics.wires import EPSILON0
from facts.test_full_drive import demo

OMEGA = 2.0 * math.pi * 50.0
UNTWISTED = (
    ('length = "330 mm", twist = "W16"', 'length = "330 mm"'),
    ('length = "330 mm", twist = "W15"', 'length = "330 mm"'),
)
ONE_SIDE = (
    ('R12 = ["heater a", "0V"]\n', ""),
    ('R13 = ["heater b", "0V"]\n', ""),
    ('"heater a"', '"0V"'),
)
ADRIFT = ONE_SIDE[:2]


def hum(name: str, stage: str, *changes: tuple[str, str]) -> HeaterHum:
    coupling = demo(name, *changes).get("HeaterCoupling")
    assert isinstance(coupling, HeaterCoupling) and not coupling.lacks
    (found,) = [one for one in coupling.stages if one.stage.name == stage]
    assert found.volts == pytest.approx(sum(part.volts for part in found.parts))
    return found


def ways(found: HeaterHum) -> dict[str, float]:
    return {part.way: part.volts for part in found.parts}


def test_the_first_grid_by_hand() -> None:
    """Lantern, the control midway: 50k beside 50k and the source's 1k, and 1k before the grid."""
    found = hum("lantern", "V1.1")
    assert found.first and found.twisted and found.reference == "balanced"
    ohms = 1.0 / (1.0 / 50e3 + 1.0 / 51e3) + 1e3
    heater = demo("lantern").get("Warm").nominal.rms("heater a", "heater b")
    assert ways(found)["bulb"] == pytest.approx(
        OMEGA * IN_BULB * UNEVEN * 0.5 * heater * ohms, rel=1e-3
    )
    assert found.best == pytest.approx(found.volts)
    assert not hum("lantern", "V2").first


def test_wires_by_hand() -> None:
    """Harbour's first channel: nothing but the socket is beside the heater's wires."""
    found = hum("harbour", "V1L.1")
    # 16 AWG: 1.29 mm; the grid sees 600 ohm beside 100k, and 1k
    copper = 0.127e-3 * 92.0 ** (20.0 / 39.0)
    spacing = copper + 2.0 * WALL
    near, far = (
        DRESS * math.pi * EPSILON0 / math.acosh(apart / copper)
        for apart in (CLEAR, CLEAR + spacing)
    )
    ohms = 1.0 / (1.0 / 600.0 + 1.0 / 100e3) + 1e3
    heater = demo("harbour").get("Warm").nominal.rms("heater a", "heater b")
    by_hand = OMEGA * TWIST_LEFT * 0.5 * (near - far) * heater * ohms
    assert ways(found)["wires"] == pytest.approx(by_hand, rel=1e-3)
    # 0.3 A: 2e-7 I l (ln 2 - ln of the same further off)
    outer = math.log((CLEAR + 10e-3 + spacing) / (CLEAR + spacing))
    flux = 2e-7 * 0.3 * DRESS * (math.log(2.0) - outer)
    assert ways(found)["current"] == pytest.approx(OMEGA * TWIST_LEFT * flux, rel=1e-6)


def test_what_a_cathode_brings_is_a_little_more_than_its_impedance() -> None:
    """Heron: i Z (mu + 1) / mu at the grid, 1 kohm beside 220 uF, mu 20 of a 6CG7."""
    found = hum("heron", "V1.1")
    cathode = abs(1.0 / (1.0 / 1000.0 + 1j * OMEGA * 220e-6)) * 21.0 / 20.0
    heater = demo("heron").get("Warm").nominal.rms("heater a", "heater b")
    siemens = math.hypot(1.0 / LEAK, OMEGA * HEATER_CATHODE)
    by_hand = siemens * UNEVEN * 0.5 * heater * cathode
    assert ways(found)["cathode"] == pytest.approx(by_hand, rel=0.02)
    # a follower's cathode has 1/gm, some 400 ohm: not its 15 kohm
    follower = ways(hum("heron", "V2.1"))["cathode"]
    assert 200.0 < follower / (siemens * UNEVEN * 0.5 * heater) < 1000.0


def test_a_bypass_that_is_taken_out_lets_the_leakage_in() -> None:
    without = (('C4 = ["cathode", "0V"]\n', ""), ('C4 = ["V1.cathode", "TB3.3"]\n', ""))
    ratio = ways(hum("heron", "V1.1", *without))["cathode"] / ways(hum("heron", "V1.1"))["cathode"]
    assert ratio == pytest.approx(
        1000.0 / abs(1.0 / (1.0 / 1000.0 + 1j * OMEGA * 220e-6)), rel=0.05
    )


def test_untwisted_wires_bring_ten_times_as_much() -> None:
    twisted, straight = hum("lantern", "V1.1"), hum("lantern", "V1.1", *UNTWISTED)
    assert not straight.twisted
    for way in ("wires", "current"):
        assert ways(straight)[way] == pytest.approx(ways(twisted)[way] / TWIST_LEFT, rel=1e-3)
    for way in ("bulb", "cathode"):
        assert ways(straight)[way] == pytest.approx(ways(twisted)[way], rel=1e-3)
    assert straight.best == pytest.approx(twisted.volts, rel=1e-3)


def test_one_side_at_ground_cancels_nothing() -> None:
    """Half the heater's volts stand at both of its wires, where there were none."""
    balanced, grounded = hum("lantern", "V1.1"), hum("lantern", "V1.1", *ONE_SIDE)
    assert grounded.reference == "one side grounded"
    assert ways(grounded)["bulb"] / ways(balanced)["bulb"] == pytest.approx(
        (1.0 + UNEVEN) / UNEVEN, rel=0.02
    )
    assert grounded.volts > 20.0 * balanced.volts
    assert grounded.best < 1.1 * balanced.volts
    adrift = hum("lantern", "V1.1", *ADRIFT)
    assert adrift.reference == "tied to nothing" and adrift.volts > grounded.volts
    assert any("tied to nothing" in datum.what for datum in adrift.rests_on)


def test_a_raised_heater_leaks_a_tenth() -> None:
    """Harbour's stand 40 V up: above the first cathode, though not above the splitter's."""
    first, splitter = hum("harbour", "V1L.1"), hum("harbour", "V1L.2")
    assert first.raised > 20.0 > splitter.raised
    assert any("1 Gohm" in part.reads for part in first.parts)
    assert any("100 Mohm" in part.reads for part in splitter.parts)


def test_a_heater_without_wires_is_named() -> None:
    text = (
        ('"V2.2", "V1.7"], type = "heater"', '"V2.2"], type = "heater"'),
        ('"V2.7", "V1.8"], type = "heater"', '"V2.7"], type = "heater"'),
    )
    coupling = demo("lantern", *text).get("HeaterCoupling")
    assert [gap.datum for gap in coupling.lacks] == ["the wires of the heater of V1"]
    assert {one.stage.name for one in coupling.stages} == {"V2"}


def test_a_heater_on_dc_does_not_hum() -> None:
    """A bench supply in place of the winding: no mains frequency is in it."""
    dc = (
        ('heater = ["heater a", "heater b"] }', "}"),
        (
            "[parts.T1]",
            'BT1 = { kind = "voltage source", voltage = "6.3 V", resistance = "0.1" }\n\n[parts.T1]',
        ),
        ("[schematic]\n", '[schematic]\nBT1 = ["heater a", "heater b"]\n'),
        (', heater = ["TB1.5", "TB1.6"] }', " }"),
        (', rect = ["fil", "B1"], }', ', rect = ["fil", "B1"] }'),
    )
    found = hum("lantern", "V1.1", *dc)
    assert found.volts < 1e-8


def test_a_wire_as_thick_as_its_clearance_is_no_fault_of_ours() -> None:
    thick = (('heater = { size = "18 AWG", style = "UL1015" }', 'heater = { size = "4/0 AWG" }'),)
    assert hum("lantern", "V1.1", *thick).volts > 0.0
