"""What a contact gives with its coupling capacitor shorted, against Ohm's law."""

from __future__ import annotations

import pytest

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.coupling_shorts import CouplingShorts
from documents import design

BATTERY = """
[parts]
G1 = { kind = "voltage source", voltage = "250 V", resistance = "1" }
J1 = { kind = "connector", role = "output", contacts = ["tip", "sleeve"] }
C1 = { kind = "capacitor", dielectric = "film", value = "0.1u", voltage = "630 V" }
C2 = { kind = "capacitor", dielectric = "electrolytic", value = "22u", voltage = "350 V" }
R1 = { kind = "resistor", value = "10k", power = "10 W", voltage = "500 V" }
R2 = { kind = "resistor", value = "1M", power = "1/2 W", voltage = "350 V" }
R3 = { kind = "resistor", value = "1k", power = "1/2 W", voltage = "350 V" }
R4 = { kind = "resistor", value = "1M", power = "1/2 W", voltage = "350 V" }
E1 = { kind = "chassis bond" }
[schematic]
G1 = ["B1", "0V"]
C2 = ["B1", "0V"]
R1 = ["B1", "plate"]
R4 = ["plate", "0V"]
C1 = ["plate", "out"]
R2 = ["out", "0V"]
R3 = ["out", "tip"]
J1 = ["tip", "0V"]
E1 = "0V"
"""


def shorts(body: str) -> CouplingShorts:
    made: CouplingShorts = Study(design(body)).get("CouplingShorts")
    return made


def test_a_hand_takes_what_the_resistors_let_through() -> None:
    """Both megohms hang on the plate: 10 k and 1 ohm ahead of them, 1 k and 2 k behind."""
    facts = shorts(BATTERY)
    part = facts.design.parts["J1"]
    ((contact, capacitor, beyond),) = facts.capacitors(part)
    assert (contact, capacitor.ref, beyond) == ("tip", "C1", "plate")
    ahead, megohms, behind = 10001.0, 500e3, 3000.0
    for case in facts.touched(part, contact, capacitor):
        assert case.volts == pytest.approx(250.0 * megohms / (megohms + ahead), rel=1e-4)
        together = megohms * behind / (megohms + behind)
        held = 250.0 * together / (together + ahead)
        assert case.amperes == pytest.approx(held / behind, rel=1e-4)
    assert facts.beyond("plate")[0] == pytest.approx(250.0 * 1e6 / (1e6 + ahead), rel=1e-4)


def test_of_two_in_series_one_is_left_whichever_shorts() -> None:
    second = 'C3 = { kind = "capacitor", dielectric = "film", value = "0.1u", voltage = "630 V" }\n'
    body = BATTERY.replace("[schematic]\n", f'{second}[schematic]\nC3 = ["middle", "out"]\n')
    facts = shorts(body.replace('C1 = ["plate", "out"]', 'C1 = ["plate", "middle"]'))
    ((_contact, capacitor, beyond),) = facts.capacitors(facts.design.parts["J1"])
    assert (capacitor.ref, beyond) == ("C3", "middle")
    assert facts.beyond(beyond)[0] == 0.0


def test_a_capacitor_to_ground_is_not_one_that_couples() -> None:
    body = BATTERY.replace('C1 = ["plate", "out"]', 'C1 = ["out", "0V"]')
    facts = shorts(body)
    assert not list(facts.capacitors(facts.design.parts["J1"]))
