"""Every kind of part: an example that is accepted, and how its ends and tie points are named."""

from __future__ import annotations

import json
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from coldcheck.lint.design import tie_points
from coldcheck.schemas.document import Document
from coldcheck.schemas.parts import AnyPart, MainsTransformer, Part
from coldcheck.schemas.windings import Winding
from documents import HEAD, design, messages

# Kind: an example with every value it may say; its terminals; points beyond its terminals.
EXAMPLES: dict[str, tuple[str, str, str]] = {
    "resistor": (
        'value = "4k7", power = "1/2 W", voltage = "350 V", tolerance = "5 %", style = "oxide"',
        "1 2",
        "",
    ),
    "capacitor": (
        'value = "47u", voltage = "450 V", surge = "500 V", dielectric = "electrolytic", '
        'safety_class = "Y2", ripple = "300 mA", tolerance = "20 %", case = "bare can"',
        "+ -",
        "",
    ),
    "choke": (
        'inductance = "10 H", resistance = "180", current = "90 mA", saturation = "150 mA", '
        'power = "3 W", '
        'insulation = "500 V", axis = "across", stray = "2 uT at 100 mm"',
        "1 2",
        "frame",
    ),
    "mains transformer": (
        'primary = { voltage = "230 V", resistance = "26", idle_current = "40 mA" }, windings.ht = { voltage = '
        '"250-0-250 V", current = "90 mA", resistance = "120+125", no_load = "270-0-270 V" }, '
        'windings.heater = { voltage = "6.3 V" }, rating = "60 VA", core = "toroid", '
        'screen = true, axis = "up", stray = "300 mG at 4 in"',
        "primary.1 primary.2 ht.1 ht.ct ht.2 heater.1 heater.2 screen",
        "frame",
    ),
    "output transformer": (
        'primary = { impedance = "5k", resistance = "120+130", inductance = "14 H", current = '
        '"60 mA", leakage = "20 mH", screen_taps = "43 %" }, secondary = { taps = ["0", "4", "8"], resistance = "0.4" }, '
        'centre_tap = true, power = "10 W", insulation = "2 kV", axis = "along"',
        "primary.1 primary.ul1 primary.ct primary.ul2 primary.2 secondary.0 secondary.4 secondary.8",
        "frame",
    ),
    "tube": ('type = "6J5", socket = "metal saddle", matched = "pair 1"', "", "1 2 3 4 5 6 7 8"),
    "diode": ('voltage = "1000 V", current = "1 A", surge = "30 A"', "anode cathode", ""),
    "bridge": ('voltage = "400 V", current = "4 A", surge = "60 A"', "ac1 ac2 + -", ""),
    "led": ('voltage = "2.1 V", current = "20 mA", reverse = "5 V"', "anode cathode", ""),
    "zener": ('voltage = "12 V", power = "1 W", slope = "5"', "anode cathode", ""),
    "fuse": (
        'current = "1 A", voltage = "250 V", speed = "T", breaking = "H", '
        'standard = "IEC 60127-2", sheet = 5, i2t = "1.2 A2s", resistance = "0.1"',
        "1 2",
        "",
    ),
    "switch": (
        'positions = { off = [], on = ["1-2", "10-3"] }, voltage = "250 V", dc_voltage = "30 V", '
        'current = "4 A", insulated = false',
        "1 2 3 10",
        "body",
    ),
    "inlet": ('current = "10 A", shell = "metal"', "L N PE", "shell"),
    "cord": ('current = "6 A", conductor = "0.75 mm2", strain_relief = true', "L N PE", ""),
    "connector": (
        'role = "input", contacts = ["tip", "sleeve"], shell = "sleeve", insulated = true, voltage = "250 V", current = "5 A"',
        "tip sleeve",
        "",
    ),
    "potentiometer": (
        'value = "50k", taper = "linear", power = "1/4 W", voltage = "200 V", setting = "30 %", '
        "insulated = true",
        "ccw wiper cw",
        "body",
    ),
    "terminal strip": (
        'lugs = 4, mounting = [2], insulated = true, voltage = "500 V"',
        "",
        "1 2 3 4",
    ),
    "ground bus": ('points = 3, pitch = "20 mm"', "", "1 2 3"),
    "chassis bond": ('fixing = "own screw", piece = "chassis"', "lug", ""),
    "lamp": ('voltage = "6.3 V", current = "150 mA"', "1 2", ""),
    "thermistor": ('cold = "10", hot = "0.2", current = "3 A", energy = "30 J"', "1 2", ""),
    "voltage source": ('voltage = "9 V", resistance = "1.5"', "+ -", ""),
    "transistor": (
        'leads = ["c", "b", "e"], current = "10 mA", voltage = "60 V", power = "1 W", '
        'temperature = "150 degC"',
        "c b e",
        "",
    ),
    "bipolar transistor": (
        'polarity = "pnp", gain = 120, base_voltage = "0.65 V", test_current = "10 mA", '
        'voltage = "80 V", current = "1 A", power = "12 W", junction = "150 degC", safe_area = ["1 A at 12 V", "50 mA at 80 V"], '
        'thermal_resistance = "10 K/W"',
        "collector base emitter",
        "",
    ),
    "mosfet": (
        'channel = "n", threshold = "3.5 V", transconductance = "2 A/V", test_current = "1 A", '
        'voltage = "600 V", gate_voltage = "20 V", current = "6 A", power = "100 W", '
        'junction = "150 degC", safe_area = ["1 A at 12 V", "50 mA at 80 V"], thermal_resistance = "8 K/W"',
        "gate drain source",
        "",
    ),
    "regulator": (
        'voltage = "-12 V", current = "1 A", quiescent = "5 mA", dropout = "2 V", '
        'output_resistance = "20 mohm", input_voltage = "35 V", power = "15 W", '
        'junction = "125 degC", thermal_resistance = "5 K/W"',
        "input output common",
        "",
    ),
}
MODELS: dict[str, type[Part]] = {
    get_args(model.model_fields["kind"].annotation)[0]: model
    for model in get_args(get_args(AnyPart)[0])
}
COMMON = 'note = "n", size = [20, "1 in", 30.5], basis = "measured"'


def test_every_kind_has_an_example_here() -> None:
    assert EXAMPLES.keys() == MODELS.keys()


@pytest.mark.parametrize("kind", EXAMPLES)
def test_an_example_with_every_value_is_accepted(kind: str) -> None:
    values, terminals, more = EXAMPLES[kind]
    body = f'[parts]\nX1 = {{ kind = "{kind}", {values}, {COMMON} }}\n'
    part = design(body).parts["X1"]
    assert part.spec.terminals() == tuple(terminals.split())
    assert tie_points(part.spec, part.tube) == tuple(f"{terminals} {more}".split())
    assert part.spec.size == pytest.approx((0.020, 0.0254, 0.0305))
    left_out = {"lead"}  # names a wire type: tested with the wires
    assert part.spec.model_fields_set == MODELS[kind].model_fields.keys() - left_out


@pytest.mark.parametrize("kind", EXAMPLES)
def test_a_misspelt_key_of_every_kind_is_pointed_at(kind: str) -> None:
    known = sorted(MODELS[kind].model_fields)
    values, _terminals, _more = EXAMPLES[kind]
    body = f'[parts]\nX1 = {{ kind = "{kind}", {values}, @notte = "x" }}\n'
    said, marks = messages(body)
    expected = f'found unknown key "notte", expected one of {", ".join(known)}'
    assert said == [f'{marks[0]}: {expected} (did you mean "note"?)']


@pytest.mark.parametrize("kind", EXAMPLES)
def test_a_plain_list_names_terminals_in_order(kind: str) -> None:
    values, terminals, _more = EXAMPLES[kind]
    names = [f"net {at}" for at in range(len(terminals.split()))]
    body = f'[parts]\nX1 = {{ kind = "{kind}", {values} }}\n[schematic]\nX1 = '
    if kind in ("tube", "terminal strip", "ground bus"):
        said, marks = messages(f'{body}@["a"]\n')
        by = {"tube": "pin", "terminal strip": "lug", "ground bus": "point"}[kind]
        what = "expected names by"
        assert said == [f'{marks[0]}: found a list for X1, {what} {by}, such as {{ 1 = "..." }}']
    else:
        made = design(body + json.dumps(names) + "\n")
        assert made.parts["X1"].ends == dict(zip(terminals.split(), names, strict=True))


def test_one_name_is_enough_for_one_terminal() -> None:
    body = '[parts]\nE1 = { kind = "chassis bond" }\n[schematic]\nE1 = "0V"\n'
    made = design(body)
    assert made.parts["E1"].ends == {"lug": "0V"}
    assert made.nets == {"0V": (("E1", "lug"),), "chassis": (("E1", "chassis"),)}


T1 = (
    '[parts]\nT1 = { kind = "mains transformer", primary = { voltage = "230 V" }, '
    'windings.ht = { voltage = "250-0-250 V" } }\n[schematic]\n'
)


def test_windings_go_by_list_or_terminal_by_terminal() -> None:
    lists = design(T1 + 'T1 = { primary = ["a", "b"], ht = ["c", "0V", "d"] }\n')
    singly = design(
        T1 + 'T1 = { "ht.2" = "d", "ht.1" = "c", "ht.ct" = "0V", "primary.1" = "a", '
        '"primary.2" = "b" }\n'
    )
    assert lists.parts["T1"].ends == singly.parts["T1"].ends
    assert list(lists.parts["T1"].ends) == ["ht.1", "ht.2", "ht.ct", "primary.1", "primary.2"]


PLATES = [
    ("230 V", "1 2"),
    ("275-0-275 V", "1 ct 2"),
    ("250+250 V", "1 ct 2"),
    ("0-5-6.3 V", "0 5 6.3"),
    ("0-115-230 V", "0 115 230"),
    ("350-300-0-300-350 V", "1 300a ct 300b 2"),
    ("275-50-0-275 V", "1 50a ct 2"),
    ("2 x 115 V", "0a 115a 0b 115b"),
    ("2x0-100-120 V", "0a 100a 120a 0b 100b 120b"),
]


@pytest.mark.parametrize(("voltage", "names"), PLATES)
def test_terminals_of_a_winding_go_by_its_nameplate(voltage: str, names: str) -> None:
    sections = len(Winding.model_validate({"voltage": voltage}).voltage)
    ohms = "+".join(["9"] * sections)
    primary = f'primary = {{ voltage = "{voltage}", resistance = "{ohms}" }}'
    made = design(
        f'[parts]\nT1 = {{ kind = "mains transformer", {primary}, windings.x = {{ voltage = '
        f'"{voltage}", no_load = "{voltage}" }} }}\n'
    )
    expected = [f"{winding}.{name}" for winding in ("primary", "x") for name in names.split()]
    spec = made.parts["T1"].spec
    assert list(spec.terminals()) == expected
    assert isinstance(spec, MainsTransformer)
    assert str(spec.primary.voltage) == voltage.replace("2x", "2 x ").replace("250+", "250-0-")


def test_sections_of_a_winding_are_steps_between_its_taps() -> None:
    def volts(text: str) -> tuple[float, ...]:
        return tuple(Winding.model_validate({"voltage": text}).voltage)

    assert volts("0-5-6.3 V") == (5.0, 1.3)
    assert volts("275-50-0-275 V") == (225.0, 50.0, 275.0)
    assert volts("2 x 0-100-120 V") == (100.0, 20.0, 100.0, 20.0)


def test_tubes_go_by_pin_or_by_electrode() -> None:
    tube = '[parts]\nV1 = { kind = "tube", type = "6J5" }\n[schematic]\n'
    by_pin = design(tube + 'V1 = { 3 = "p", 5 = "g", 8 = "k" }\n')
    by_name = design(tube + 'V1 = { cathode = "k", grid = "g", plate = "p" }\n')
    assert by_pin.parts["V1"].ends == by_name.parts["V1"].ends == {"3": "p", "5": "g", "8": "k"}


POINTS = """[parts]
V1 = { kind = "tube", type = "6J5" }
V2 = { kind = "tube", type = "6CG7" }
R1 = { kind = "resistor", value = "1k" }
E1 = { kind = "chassis bond" }
TB1 = { kind = "terminal strip", lugs = 3 }
XB1 = { kind = "ground bus", points = 2 }
L1 = { kind = "choke", inductance = "10 H" }
[wire_types]
thin = { size = "22 AWG" }
[wires]
W1 = { type = "thin", run = """

RESOLVED = [
    ("E1", "E1.lug"),
    ("E1.lug", "E1.lug"),
    ("V1.5", "V1.5"),
    ("V1.grid", "V1.5"),
    ("V2.9", "V2.9"),
    ("TB1.3", "TB1.3"),
    ("XB1.2", "XB1.2"),
    ("R1.2", "R1.2"),
    ("L1.frame", "L1.frame"),
]


@pytest.mark.parametrize(("written", "point"), RESOLVED)
def test_tie_points_are_found(written: str, point: str) -> None:
    made = design(f'{POINTS}["TB1.1", "{written}"] }}\n')
    assert made.wires["W1"].run == ("TB1.1", point)


STRAY = [
    ("TB1", "it names no point of TB1", "one of 1, 2, 3"),
    ("TB1.4", 'TB1 has no point "4"', "one of 1, 2, 3"),
    ("TB1.", "it names no point of TB1", "one of 1, 2, 3"),
    ("TB1.²", 'TB1 has no point "²"', "one of 1, 2, 3"),
    (
        "V1.grib",
        'V1 has no point "grib"',
        'a pin from 1 to 8, or plate, grid, cathode (did you mean "grid"?)',
    ),
    (
        "V2.grid",
        'V2 has no point "grid"',
        "a pin from 1 to 9 (it has 2 sections: electrode names are not enough)",
    ),
    ("V1.0", 'V1 has no point "0"', "a pin from 1 to 8, or plate, grid, cathode"),
    ("L1.fram", 'L1 has no point "fram"', 'one of 1, 2, frame (did you mean "frame"?)'),
    (
        "TB12.1",
        'there is no part "TB12"',
        'a tie point of a listed part, such as TB1.2 (did you mean "TB1"?)',
    ),
    (
        "chassis",
        'there is no part "chassis"',
        "a tie point; the metal is reached by the lug of a chassis bond",
    ),
]


@pytest.mark.parametrize(("written", "why", "expected"), STRAY, ids=[case[0] for case in STRAY])
def test_a_point_that_is_not_there_is_refused(written: str, why: str, expected: str) -> None:
    said, marks = messages(f'{POINTS}["TB1.1", @"{written}"] }}\n')
    assert said == [f'{marks[0]}: found "{written}", and {why}, expected {expected}']


def test_a_wire_goes_somewhere_else() -> None:
    said, marks = messages(POINTS + '["TB1.1", @"TB1.1", "TB1.2"] }\n')
    expected = "expected a wire from one point to another"
    assert said == [f"{marks[0]}: found TB1.1 twice in a row, {expected}"]


# -- every model of the document refuses a key it does not know -------------------------------------

WHOLE = (
    HEAD
    + """
[site.source]
level = "2 V"
impedance = "1k"
[site.load]
impedance = "8"
[claims]
power = "5 W"
[parts]
R1 = { kind = "resistor", value = "1k" }
[parts.T1]
kind = "mains transformer"
primary = { voltage = "230 V" }
windings.ht = { voltage = "6 V" }
[parts.T2]
kind = "output transformer"
primary = { impedance = "5k" }
secondary = { taps = ["0", "8"] }
[channel]
names = ["L", "R"]
[chassis]
material = "steel"
sheet = "1 mm"
width = "100 mm"
depth = "100 mm"
height = "50 mm"
[chassis.covers.top]
contact = "none"
[layout.R1]
at = [1, 2]
[holes.H1]
at = [1, 2]
diameter = "8 mm"
[holes.H1.grommet]
hole = "8 mm"
groove = "2 mm"
bore = "5 mm"
[wire_types.thin]
size = "22 AWG"
[wires.W1]
run = ["R1.1", "R1.2"]
type = "thin"
[tubes.mine]
like = "6J5"
source = "bench notes"
heater = [{ volts = "6.3 V", amperes = "0.3 A" }]
limits = { plate_volts = { value = "300 V" } }
law = { point = { plate_volts = "250 V", grid_volts = "-8 V", plate_amperes = "9 mA", mu = 20, plate_ohms = "7k7" } }
[tubes.glow]
like = "5Y3GT"
source = "bench notes"
law = { drop = { volts = "60 V", amperes = "125 mA" } }
[tubes.dim]
like = "5Y3GT"
source = "bench notes"
law = { form = "three-halves", perveance = 0.001 }
[[accept]]
rule = "a/b"
about = "R1"
reason = "long enough"
by = "m"
date = 2026-01-01
"""
)
# Table header in WHOLE: a key it knows, misspelt.
SLIPS = {
    "project": "revison",
    "site": "ambiant",
    "site.source": "cabel",
    "site.load": "sensitivty",
    "claims": "dampng",
    "parts.T1": "windigs",
    "parts.T2": "secundary",
    "channel": "comon",
    "chassis": "widht",
    "chassis.covers.top": "contct",
    "layout.R1": "tern",
    "holes.H1": "diametre",
    "holes.H1.grommet": "grove",
    "wire_types.thin": "voltge",
    "wires.W1": "lenght",
    "tubes.mine": "sourc",
    "accept": "untill",
}
INLINE = {
    'primary = { voltage = "230 V" }': ("voltge", "voltage"),
    'windings.ht = { voltage = "6 V" }': ("no_laod", "no_load"),
    'primary = { impedance = "5k" }': ("impedence", "impedance"),
    'secondary = { taps = ["0", "8"] }': ("tap", "taps"),
    'tolerance = "10 %" }': ("frequncy", "frequency"),
    'amperes = "0.3 A" }': ("betwen", "between"),
    '{ value = "300 V" }': ("sorce", "source"),
    'plate_ohms = "7k7" }': ("screen_vols", "screen_volts"),
    'amperes = "125 mA" }': ("vols", "volts"),
    "perveance = 0.001 }": ("plate_pul", "plate_pull"),
}


def test_the_whole_document_is_right() -> None:
    assert design(WHOLE, head="").parts.keys() == {"R1", "T1", "T2"}


@pytest.mark.parametrize("table", SLIPS)
def test_a_misspelt_key_of_every_table(table: str) -> None:
    header = f"[[{table}]]\n" if table == "accept" else f"[{table}]\n"
    assert WHOLE.count(header) == 1
    said, marks = messages(WHOLE.replace(header, f"{header}@{SLIPS[table]} = 1\n"), head="")
    assert len(said) == 1
    assert said[0].startswith(f'{marks[0]}: found unknown key "{SLIPS[table]}", expected one of ')
    assert '(did you mean "' in said[0]


@pytest.mark.parametrize("table", INLINE)
def test_a_misspelt_key_of_every_table_within_a_line(table: str) -> None:
    slip, meant = INLINE[table]
    assert WHOLE.count(table) == 1
    said, marks = messages(WHOLE.replace(table, f"{table[:-1]}, @{slip} = 1 }}"), head="")
    assert len(said) == 1
    assert said[0].startswith(f'{marks[0]}: found unknown key "{slip}", expected one of ')
    assert said[0].endswith(f'(did you mean "{meant}"?)')


def test_every_model_of_the_document_is_among_them() -> None:
    """A model that is added must be tried above."""
    found: set[type[BaseModel]] = set()
    waiting: list[Any] = [Document]
    while waiting:
        kind = waiting.pop()
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            if kind not in found:
                found.add(kind)
                waiting += [field.annotation for field in kind.model_fields.values()]
        else:
            waiting += get_args(kind)
    others = found - set(MODELS.values()) - {Document}
    # parts.T1 and parts.T2 above are parts; all other tables and the inline ones are not
    assert len(others) == len(SLIPS) - 2 + len(INLINE)
