"""Tube types a builder writes himself: whole or like a known one, and what is said of slips."""

from __future__ import annotations

import pytest

from coldcheck.schemas.tubes import TubeType
from documents import ROOT, design, messages

WHOLE = """
[tubes.EBX1]
source = "maker's leaflet of 1961"
base = "b9a"
sections = ["triode", "pentode"]
pins = { 1 = "grid_1", 2 = "cathode_2", 3 = "grid_2", 4 = "heater", 5 = "heater", 6 = "plate_2", 7 = "screen_2", 8 = "cathode_1", 9 = "plate_1" }
heater = [{ volts = "6.3 V", amperes = "780 mA" }]
limits = { plate_volts = "300 V", plate_watts_1 = "1 W", plate_watts_2 = { value = "7 W", source = "bench notes", basis = "measured", note = "in free air" } }
capacitance = { grid_plate_1 = "4.4 pF" }
note = "two leaflets differ"
[[tubes.EBX1.law]]
section = 1
point = { plate_volts = "100 V", grid_volts = "0 V", plate_amperes = "3.5 mA", mu = 70, transconductance = "2.2 mA/V" }
[[tubes.EBX1.law]]
point = { plate_volts = "200 V", screen_volts = "200 V", grid_volts = "-16 V", plate_amperes = "35 mA", screen_amperes = "7 mA", transconductance = "6.4 mA/V", plate_ohms = "20k", mu = 9.5 }
"""
PART = '\n[parts]\nV1 = { kind = "tube", type = "EBX-1" }\n'


def made(body: str) -> TubeType:
    kind = design(PART + body).parts["V1"].tube
    assert kind is not None
    return kind


def test_a_whole_type_is_what_the_library_would_hold() -> None:
    kind = made(WHOLE)
    assert (kind.name, kind.base, kind.origin) == ("EBX1", "B9A", "project")
    assert [section.kind for section in kind.sections] == ["triode", "pentode"]
    assert kind.sections[1].electrodes == {"cathode": 2, "grid": 3, "plate": 6, "screen": 7}
    (heater,) = kind.heater
    assert (heater.volts, heater.amperes, heater.between) == (6.3, 0.78, ((4,), (5,)))
    shared, own = kind.limit("plate_volts", 2), kind.limit("plate_watts", 2)
    assert shared is not None and own is not None
    assert (shared.value, shared.unit, shared.basis) == (300.0, "V", "data sheet")
    assert shared.source == "maker's leaflet of 1961"
    assert (own.value, own.basis, own.source) == (7.0, "measured", "bench notes")
    assert own.note == "in free air"
    assert kind.capacitance["grid_plate_1"].value == pytest.approx(4.4e-12)
    assert kind.note == "two leaflets differ"
    triode, pentode = kind.law[1], kind.law[2]
    assert triode is not None and pentode is not None
    assert (triode.form, triode.basis, triode.rows) == ("koren", "derived", 1)
    assert (pentode.form, pentode.basis) == ("reefman", "assumed")
    assert "maker's leaflet" in triode.source and "knee assumed" in pentode.source


def test_one_law_serves_both_halves_of_a_twin() -> None:
    kind = made(
        """
[tubes.EBX1]
source = "a sheet"
base = "octal"
sections = ["triode", "triode"]
pins = { 1 = "grid_2", 2 = "plate_2", 3 = "cathode_2", 4 = "grid_1", 5 = "plate_1", 6 = "cathode_1", 7 = "heater", 8 = "heater" }
heater = [{ volts = "6.3 V", amperes = "600 mA" }]
law = { form = "koren", mu = 20, ex = 1.4, kg1 = 1900, kp = 210, kvb = 3000 }
"""
    )
    assert kind.law[1] is kind.law[2] is not None
    assert kind.law[1].parameters["mu"] == 20.0  # type: ignore[union-attr]


def test_rectifiers_and_regulators_have_no_need_of_what_they_lack() -> None:
    rectifier = made(
        """
[tubes.EBX1]
source = "a sheet"
base = "UX4"
sections = ["diode", "diode"]
pins = { 1 = "filament", 2 = "plate_1", 3 = "plate_2", 4 = "filament" }
heater = [{ volts = "5 V", amperes = "2 A" }]
supply_ohms = { "350 V" = "50 ohm", "300 V" = "40 ohm" }
law = { drop = { volts = "60 V", amperes = "125 mA" } }
"""
    )
    assert rectifier.directly_heated
    assert [volts for volts, _ohms in rectifier.supply_ohms] == [300.0, 350.0]
    found = rectifier.least_supply_ohms(325.0)
    assert found is not None and found.value == pytest.approx(45.0)
    law = rectifier.law[2]
    assert law is not None
    assert law.parameters["perveance"] * 60**1.5 == pytest.approx(0.125)
    regulator = made(
        """
[tubes.EBX1]
source = "a sheet"
base = "B7G"
sections = ["regulator"]
pins = { 1 = "anode", 2 = "cathode" }
limits = { regulated_volts = "85 V", starting_volts = "125 V" }
"""
    )
    assert regulator.heater == () and regulator.law == {1: None}


def test_a_type_like_another_keeps_what_it_does_not_change() -> None:
    kind = made(
        """
[tubes.EBX1]
like = "12AX7"
source = "a sheet"
plate_watts = "1.2 W"
limits = { plate_volts = "330 V" }
"""
    )
    assert kind.limits["plate_watts"].value == 1.2
    assert kind.limits["plate_volts"].value == 330.0
    assert kind.limits["cathode_amperes"].source.startswith("Philips")
    assert kind.pins_of("heater_tap") == (9,) and kind.law[1] is not None
    assert kind.aliases == () and kind.origin == "project"


def test_an_entry_may_bear_the_name_of_the_type_it_changes() -> None:
    kind = made('[tubes."ebx1"]\nlike = "6J5"\nsource = "a sheet"\n')
    assert kind.name == "ebx1"
    other = design(
        '[parts]\nV1 = { kind = "tube", type = "6J5" }\n'
        '[tubes."6J5"]\nlike = "6J5"\nsource = "a sheet"\nplate_watts = "3 W"\n'
    ).parts["V1"]
    assert other.tube is not None and other.tube.limits["plate_watts"].value == 3.0


TRIODE = """
[tubes.EBX1]
source = "a sheet"
base = "B7G"
sections = ["triode"]
pins = { 1 = "plate", 2 = "grid", 3 = "heater", 4 = "heater", 5 = "cathode" }
heater = [{ volts = "6.3 V", amperes = "150 mA" }]
"""
POINT = 'plate_volts = "250 V", grid_volts = "-8 V", plate_amperes = "9 mA"'
NEAR = "two of mu, transconductance and plate_ohms"
SLIPS = {
    "nothing to start from": (
        '[tubes.@EBX1]\nsource = "a sheet"\n',
        'EBX1 without "base" and "sections" and "pins"',
        'it to be given, or like = "..." with a tube type that is known',
    ),
    "like a type there is not": (
        '[tubes.EBX1]\nlike = @"6V6TG"\nsource = "a sheet"\n',
        'like = "6V6TG"',
        'a tube type that is known (did you mean "6V6GT"?)',
    ),
    "like a type and sections too": (
        '[tubes.EBX1]\nlike = "6J5"\n@sections = ["triode"]\nsource = "a sheet"\n',
        "sections beside like",
        "no sections: they are those of 6J5",
    ),
    "two names that are one": (
        TRIODE + '[tubes.@ebx-1]\nlike = "6J5"\nsource = "a sheet"\n',
        '"ebx-1"',
        "one name for each type; case and hyphens do not tell it from EBX1",
    ),
    "a pin the base has not": (
        TRIODE.replace('1 = "plate"', '@8 = "plate"'),
        'pin "8"',
        "a number from 1 to 7",
    ),
    "an electrode misspelt": (
        TRIODE.replace('"plate"', '@"palte"'),
        '"palte"',
        "one of plate, grid, screen, suppressor, cathode, anode, heater, heater_tap, "
        "heater_cathode, filament, shield, nc, ic; of a section plate_1, plate_2 "
        '(did you mean "plate"?)',
    ),
    "an electrode left out": (
        TRIODE.replace(', 5 = "cathode"', "").replace("pins", "@pins"),
        "no pin for the cathode",
        "every electrode to have a pin",
    ),
    "one heated pin": (
        TRIODE.replace('4 = "heater", ', "")
        .replace('\nheater = [{ volts = "6.3 V", amperes = "150 mA" }]', "")
        .replace("pins", "@pins")
        + 'heater = [{ volts = "6.3 V", amperes = "150 mA", between = [[3], [5]] }]\n',
        "no two heated pins",
        "two pins for the heater or filament",
    ),
    "no heater": (
        TRIODE.replace('heater = [{ volts = "6.3 V", amperes = "150 mA" }]', "").replace(
            "[tubes.", "[tubes.@"
        ),
        'EBX1 without "heater"',
        'it to be given, such as heater = [{ volts = "6.3 V", amperes = "300 mA" }]',
    ),
    "a heater of three pins": (
        TRIODE.replace('5 = "cathode"', '5 = "cathode", 6 = "heater_tap"').replace(
            "heater = [{", "heater = [@{"
        ),
        "a heater of more than two pins",
        "between, such as [[4, 5], [9]]: more than one way is possible",
    ),
    "a heater between pins that are none": (
        TRIODE.replace('"150 mA" }', '"150 mA", between = @[[3], [5]] }'),
        "pins that are not two sides",
        "the heated pins of one side and of the other, such as [[4, 5], [9]]",
    ),
    "a limit in another unit": (
        TRIODE + 'limits = { plate_volts = @"3 W" }\n',
        'plate_volts = "3 W"',
        'a voltage such as "275 V" or "90 mV"; this reads as a power',
    ),
    "a limit of nothing": (
        TRIODE + 'limits = { plate_watts = { value = @"0 W" } }\n',
        'plate_watts = "0 W"',
        "more than zero",
    ),
    "a limit twice": (
        TRIODE + '@plate_watts = "3 W"\nlimits = { plate_watts = "3 W" }\n',
        "plate_watts, which limits has too",
        "it once",
    ),
    "a supply voltage that is none": (
        TRIODE + 'supply_ohms = { @"300 W" = "50 ohm" }\n',
        '"300 W"',
        'a voltage such as "275 V" or "90 mV"; this reads as a power',
    ),
    "a law of two kinds at once": (
        TRIODE + '@law = { form = "koren", drop = { volts = "1 V", amperes = "1 A" } }\n',
        "a law with drop and form",
        "one of point (published currents), drop (a diode's) and form (parameters)",
    ),
    "a law that lacks a parameter": (
        TRIODE + '@law = { form = "koren", mu = 20, ex = 1.4, kg1 = 1900, kp = 210 }\n',
        "koren without kvb",
        "mu, ex, kg1, kp, kvb for koren",
    ),
    "a law with a parameter of another": (
        TRIODE + "@law = { point = { " + POINT + ", mu = 20 }, kp = 210 }\n",
        "point with kp",
        "no parameters for point",
    ),
    "a pentode's law for a triode": (
        TRIODE + '@law = { drop = { volts = "60 V", amperes = "125 mA" } }\n',
        "a law that fits no section of EBX1 (triode)",
        "a law of one of its sections",
    ),
    "a point that says too little": (
        TRIODE + "law = { @point = { " + POINT + ", mu = 20 } }\n",
        "a point no law can be made of",
        NEAR,
    ),
    "a point at odds with itself": (
        TRIODE
        + "law = { @point = { "
        + POINT
        + ', mu = 20, transconductance = "2.6 mA/V", plate_ohms = "77k" } }\n',
        "a point no law can be made of",
        "mu near transconductance times plate_ohms, 200",
    ),
    "a grid that is positive": (
        TRIODE
        + "law = { point = { "
        + POINT.replace('"-8 V"', '@"8 V"')
        + ', mu = 20, transconductance = "2.6 mA/V" } }\n',
        "a grid above its cathode",
        "0 V or less",
    ),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_told_where_it_stands(slip: str) -> None:
    body, found, expected = SLIPS[slip]
    said, marks = messages(PART + body)
    assert said == [f"{marks[0]}: found {found}, expected {expected}"]


def test_a_limit_misspelt_is_told_with_the_one_meant() -> None:
    said, marks = messages(PART + TRIODE + 'limits = { @plate_vlots = "300 V" }\n')
    assert len(said) == 1
    assert said[0].startswith(f'{marks[0]}: found unknown value "plate_vlots", expected one of ')
    assert said[0].endswith('(did you mean "plate_volts"?)')


def test_a_type_that_cannot_be_is_told_alone() -> None:
    """Every pin of such a tube would else be one more trouble."""
    body = PART + '[tubes.EBX1]\nlike = "6J6J"\nsource = "a sheet"\n'
    said, _ = messages(body + '[schematic]\nV1 = { plate = "a", grid = "b", cathode = "c" }\n')
    assert len(said) == 1 and "6J6J" in said[0]


def test_the_example_in_the_readme_is_right() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    example = text.partition("```toml\n[tubes.")[2].partition("```")[0]
    kinds = design(
        '[parts]\nV1 = { kind = "tube", type = "EBX1" }\nV2 = { kind = "tube", type = "EBX2" }\n'
        f"[tubes.{example}"
    ).parts
    assert kinds["V1"].tube is not None and kinds["V1"].tube.law[1] is not None
    assert kinds["V2"].tube is not None
    assert kinds["V2"].tube.limits["plate_watts"].value == 14.0
