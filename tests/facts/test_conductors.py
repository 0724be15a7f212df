"""What wires carry, against Kirchhoff's current law and sums done by hand.

Sources: Kirchhoff's and Ohm's laws; copper by IEC 60028, 17.241 nohm m at 20 degC, rising 0.00393
per kelvin; the square-root law of current and temperature rise by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.conductors import Conductor, Conductors
from coldcheck.lint.model import Missing
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_text
from coldcheck.schemas.parts import Connector
from documents import ROOT, design

STRING = """
[parts]
J1 = { kind = "inlet" }
V1 = { kind = "tube", type = "6SN7GT" }
V2 = { kind = "tube", type = "6SN7GT" }
E1 = { kind = "chassis bond" }
TB1 = { kind = "terminal strip", lugs = 4 }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "1u", voltage = "50 V" }
C2 = { kind = "capacitor", dielectric = "electrolytic", value = "1u", voltage = "50 V" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "20" }, windings.heater = { voltage = "6.3 V", current = "2 A", resistance = "0.1", no_load = "6.6 V" }, lead = "thick" }
[schematic]
J1 = ["line", "neutral", "chassis"]
T1 = { primary = ["line", "neutral"], heater = ["a", "0V"] }
V1 = { 7 = "a", 8 = "0V" }
V2 = { 7 = "a", 8 = "0V" }
C1 = ["a", "0V"]
C2 = ["a", "0V"]
E1 = "0V"
[wire_types]
thick = { size = "18 AWG", style = "UL1015" }
[leads]
T1 = { primary = ["J1.L", "J1.N"], heater = ["TB1.1", "TB1.2"] }
[wires]
W1 = { run = ["TB1.1", "V1.7", "V2.7"], type = "thick", length = "400 mm" }
W2 = { run = ["TB1.2", "V1.8", "V2.8"], type = "thick", length = "400 mm" }
W3 = { run = ["TB1.2", "E1"], type = "thick" }
"""


def study(body: str = STRING) -> Study:
    return Study(design(body))


def of(conductors: Conductors, name: str) -> Conductor:
    return next(each for each in conductors.all if each.name == name)


@pytest.mark.parametrize("name", ["lantern", "heron", "harbour"])
def test_what_enters_a_net_leaves_it(name: str) -> None:
    file = ROOT / "projects" / f"{name}.toml"
    here = Study(load(*read_text(file.read_bytes(), file.name), file.name).design)
    conductors, warm, wiring = here.get("Conductors"), here.get("Warm"), here.get("Wiring")
    split = {point for s in here.get("Realised").splits for piece in s.pieces for point in piece}
    judged = 0
    for state in (warm.nominal, warm.high):
        flows = conductors.flows(state)
        for group in wiring.joined():
            waves = [wave for point, wave in flows.items() if point in group]
            if waves and not split & group:
                judged += 1
                most = max(float(np.max(np.abs(wave))) for wave in waves)
                assert float(np.max(np.abs(np.sum(waves, axis=0)))) < 1e-4 * most + 2e-6
    assert judged > 40


def test_only_the_generator_is_missing_when_driven() -> None:
    file = ROOT / "projects" / "harbour.toml"
    design_ = load(*read_text(file.read_bytes(), file.name), file.name).design
    here = Study(design_)
    conductors, level = here.get("Conductors"), here.get("FullDrive").high.clipping
    flows, wiring = conductors.flows(level), here.get("Wiring")
    inputs = {f"{part.ref}.{c}" for part in design_.of(Connector) for c in part.ends}
    mains = {f"T1.{end}" for end in design_.parts["T1"].ends}  # their mean only, when driven
    judged = 0
    for group in wiring.joined():
        waves = [wave for point, wave in flows.items() if point in group]
        if waves and not (inputs | mains) & group:
            judged += 1
            most = max(float(np.max(np.abs(wave))) for wave in waves)
            assert float(np.max(np.abs(np.sum(waves, axis=0)))) < 1e-4 * most + 2e-6
    assert judged > 40


def test_the_first_span_of_a_chain_carries_both_heaters() -> None:
    here = study()
    conductors, state = here.get("Conductors"), here.get("Warm").high
    volts = state.rms("a", "0V")
    one = volts / (6.3 / 0.6)  # a 6SN7GT takes 0.6 A at 6.3 V
    worst, span = conductors.amperes(of(conductors, "W1"))
    assert worst.value == pytest.approx(2.0 * one, rel=1e-4)
    assert span == "TB1.1 to V1.7"
    lead, _span = conductors.amperes(of(conductors, "the heater.1 lead of T1"))
    assert lead.value == pytest.approx(2.0 * one, rel=1e-3)


def test_a_contact_carries_what_lies_beyond_it() -> None:
    """A plug in a chain; loudspeaker terminals carry what the loudspeaker takes, and no more."""
    plug = 'J2 = { kind = "connector", role = "power", contacts = ["1", "2"] }\n[schematic]\nJ2 = ["a", "0V"]'
    body = STRING.replace("[schematic]", plug, 1)
    here = study(body.replace('"V1.7", "V2.7"', '"J2.1", "V1.7", "V2.7"'))
    one = here.get("Warm").high.rms("a", "0V") / (6.3 / 0.6)
    conductors = here.get("Conductors")
    assert conductors.through("J2.1").value == pytest.approx(2.0 * one, rel=1e-4)
    assert conductors.through("J2.2") is None
    file = ROOT / "projects" / "lantern.toml"
    driven = Study(load(*read_text(file.read_bytes(), file.name), file.name).design)
    level = driven.get("FullDrive").high.clipping
    found = driven.get("Conductors").through("J3.-")
    assert found.value == pytest.approx(level.rms("speaker", "0V") / 8.0, rel=1e-6)


def test_a_ring_may_carry_half_of_all() -> None:
    ring = STRING + 'W4 = { run = ["TB1.1", "V2.7"], type = "thick" }\n'
    here = study(ring)
    conductors, state = here.get("Conductors"), here.get("Warm").high
    flows = [w for p, w in conductors.flows(state).items() if p in conductors._groups["V1.7"]]
    bound = 0.5 * math.sqrt(float(np.mean(np.sum(np.abs(flows), axis=0) ** 2)))
    worst, _span = conductors.amperes(of(conductors, "W4"))
    assert worst.value == pytest.approx(bound)
    assert worst.value >= 2.0 * state.rms("a", "0V") / (6.3 / 0.6) * 0.999


def test_loss_is_current_times_copper() -> None:
    here = study()
    conductors, state = here.get("Conductors"), here.get("Warm").nominal
    amperes = state.rms("a", "0V") / (6.3 / 0.6)
    # nothing is placed, so each span has half of 0.4 m; 18 AWG is 0.8231 mm2; 50 degC inside
    ohms = 0.2 * 1.7241e-8 * (1.0 + 0.00393 * 30.0) / 0.8231e-6
    near, far = conductors.lost(state, "V1.7"), conductors.lost(state, "V2.7")
    assert near == pytest.approx(2.0 * amperes * ohms, rel=2e-3)
    assert far == pytest.approx(3.0 * amperes * ohms, rel=2e-3)
    with pytest.raises(Missing, match="the length of W1"):
        bare = study(
            STRING.replace('type = "thick", length = "400 mm" }\nW2', 'type = "thick" }\nW2')
        )
        bare.get("Conductors").lost(bare.get("Warm").nominal, "V2.7")


def test_volts_are_rms_to_the_chassis() -> None:
    here = study()
    conductors = here.get("Conductors")
    worst, apart = conductors.volts(of(conductors, "W1"))
    # 6.6 V without load at 253 V; cold heaters are there too, so it is what they leave
    assert worst.value == pytest.approx(here.get("Warm").high.rms("a", "0V"), rel=2e-3)
    assert apart == "the chassis"
    mains, _apart = conductors.volts(of(conductors, "the primary.1 lead of T1"))
    assert mains.value == pytest.approx(253.0, rel=1e-3)


@pytest.mark.parametrize(
    ("style", "amperes"),
    [
        # 18 AWG: 6 A for 105 degC insulation in 70 degC air, here in 50 degC
        ('style = "UL1015"', 6.0 * math.sqrt((105.0 - 50.0) / 35.0)),
        ('style = "UL1007"', 6.0 * math.sqrt((80.0 - 50.0) / 35.0)),
        ('temperature = "200 degC"', 12.0 * math.sqrt((200.0 - 50.0) / 130.0)),
        ('temperature = "50 degC"', 0.0),
    ],
)
def test_current_of_a_wire_by_its_insulation(style: str, amperes: float) -> None:
    here = design(STRING.replace('style = "UL1015"', style))
    kind = here.document.wire_types["thick"]
    found = Study(here).get("Ratings").wire_amperes("thick", kind)
    assert found.figure.value == pytest.approx(amperes)


def test_no_current_is_made_up_for_hair() -> None:
    here = design(STRING.replace('"18 AWG"', '"28 AWG"'))
    with pytest.raises(Missing, match="thinner than 24 AWG"):
        Study(here).get("Ratings").wire_amperes("thick", here.document.wire_types["thick"])
