"""What a solved state says of itself: which parts rectify, and which it has taken too simply."""

from __future__ import annotations

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.warm import Warm
from coldcheck.lint.model import Basis
from coldcheck.lint.state.text import text as text_of
from coldcheck.lint.state.values import values
from documents import design

SUPPLY = """
[parts]
J1 = { kind = "inlet" }
D1 = { kind = "bridge", voltage = "1000 V", current = "1 A" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "100u", voltage = "400 V" }
R1 = { kind = "resistor", value = "4k7", power = "20 W", voltage = "500 V" }
R2 = { kind = "resistor", value = "2k2", power = "2 W", voltage = "350 V" }
E1 = { kind = "chassis bond" }
V1 = { kind = "tube", type = "12AU7" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "20" }, windings.ht = { voltage = "150 V", current = "0.1 A", resistance = "30", no_load = "160 V" }, windings.extra = { voltage = "90 V", current = "0.1 A", resistance = "10", no_load = "95 V" }, windings.heater = { voltage = "6.3 V", current = "1 A", resistance = "0.2", no_load = "6.6 V" } }
[schematic]
J1 = ["line", "neutral", "chassis"]
T1 = { primary = ["line", "neutral"], ht = ["a", "b"], extra = ["B1", "fed"], heater = ["h", "0V"] }
D1 = ["a", "b", "B1", "0V"]
C1 = ["B1", "0V"]
R1 = ["B1", "0V"]
R2 = ["k", "0V"]
V1 = { 1 = "PLATE", 2 = "0V", 3 = "k", 4 = "h", 5 = "h", 9 = "0V", 6 = "0V", 7 = "0V", 8 = "0V" }
E1 = "0V"
"""


def warm(body: str) -> Warm:
    made: Warm = Study(design(body)).get("Warm")
    return made


def test_a_tube_that_swings_too_far_to_be_linear_is_what_the_state_rests_on() -> None:
    """Its plate swings by the peak of a winding, 134 V, about 220 V."""
    swung = warm(SUPPLY.replace("PLATE", "fed")).nominal
    said = [datum for datum in swung.rests_on if datum.what.startswith("V1.2 as linear")]
    assert [datum.basis for datum in said] == [Basis.ASSUMED]
    still = warm(SUPPLY.replace("PLATE", "B1")).nominal
    assert not any("as linear" in datum.what for datum in still.rests_on)


def test_a_core_that_saturates_is_no_rectifier() -> None:
    """A choke that feeds the bridge is bent by its gulps, and is solved over the cycle as they are."""
    parts = 'L1 = { kind = "choke", inductance = "0.5 H", resistance = "100", current = "10 mA", saturation = "20 mA" }\n'
    fed = SUPPLY.replace("PLATE", "B1").replace(
        "[schematic]", parts + '[schematic]\nL1 = ["a", "c"]'
    )
    state = warm(fed.replace('D1 = ["a", ', 'D1 = ["c", ')).nominal
    swings = zip(state.solved.network.diodes.names, state.solved.swinging, strict=True)
    assert dict(swings)["L1"]
    assert state.rectifiers == {"D1.ac1+", "D1.ac1-", "D1.ac2+", "D1.ac2-"}


def test_what_was_taken_too_simply_is_printed() -> None:
    told = text_of(values(Study(design(SUPPLY.replace("PLATE", "fed")))))
    assert "rests on V1.2 as linear, which it is not over its swing (assumed)" in told
