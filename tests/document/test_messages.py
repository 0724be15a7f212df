"""Every wrong document draws one line a builder understands, at the place of the culprit."""

from __future__ import annotations

from typing import Any

import pytest

from coldcheck.lint.read.errors import InputError
from coldcheck.lint.read.positions import Positions
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_text
from documents import DEMOS, HEAD, messages, parsed

R1 = '[parts]\nR1 = { kind = "resistor", value = "1k" }\n'
T1 = '[parts]\nT1 = { kind = "mains transformer", primary = { voltage = "230 V" }, windings.ht = '
T2 = '[parts]\nT2 = { kind = "output transformer", primary = { impedance = "5k" }, secondary = '
KINDS = (
    "one of resistor, capacitor, choke, mains transformer, output transformer, tube, diode, "
    "bridge, led, zener, fuse, switch, inlet, cord, connector, potentiometer, terminal strip, "
    "ground bus, chassis bond, lamp, thermistor, voltage source, transistor, "
    "bipolar transistor, mosfet, regulator"
)
NAMES = "a name, a list of names in terminal order, or a table of names by terminal"
REFERENCE = "a reference: one to four letters and a number, such as R4 or TB2"

# The document after its head, with an @ before the culprit; what is found; what is expected.
CASES = [
    # a part
    ("[@parts]\n", "parts = an empty table", "at least 1 entry"),
    (
        "[parts]\nR1 = @5\n",
        "R1 = 5",
        'a table, such as { kind = "resistor", value = "47k" }',
    ),
    ('[parts]\n@R1 = { value = "1k" }\n', 'R1 without "kind"', f"kind = {KINDS}"),
    ("[parts]\nR1 = { kind = @5 }\n", "kind = 5", KINDS),
    (
        '[parts]\nR1 = { value = "1k", kind = @"resistr" }\n',
        'kind = "resistr"',
        f'{KINDS} (did you mean "resistor"?)',
    ),
    (
        '[parts]\n@R1 = { kind = "resistor" }\n',
        'R1 without "value"',
        'it to be given, such as value = "47k"',
    ),
    (
        '[parts]\n@1R = { kind = "resistor", value = "1k" }\n',
        'the name "1R"',
        REFERENCE,
    ),
    (
        R1 + "@layot = {}\n",
        'the name "layot"',
        f"{REFERENCE} (did you mean the table [layout]?)",
    ),
    # quantities
    (
        '[parts]\nR1 = { kind = "resistor", value = @1000 }\n',
        "value = 1000",
        'text with its unit, such as "47k"',
    ),
    (
        '[parts]\nR1 = { kind = "resistor", value = @"0" }\n',
        'value = "0"',
        'more than zero, such as "47k"',
    ),
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", power = @"5" }\n',
        'power = "5"',
        'a power such as "1/2 W" or "5 W"; the unit is missing',
    ),
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", tolerance = @"-5 %" }\n',
        'tolerance = "-5 %"',
        'at least 0 %, such as "10 %"',
    ),
    (
        T1 + '{ voltage = @"0-0-250 V" } }\n',
        'voltage = "0-0-250 V"',
        'more than zero in every section, such as "275-0-275 V"',
    ),
    # text, choices, flags, whole numbers
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", note = @5 }\n',
        "note = 5",
        "text in quotes",
    ),
    (
        f'[parts]\nR1 = {{ kind = "resistor", value = "1k", note = @"{"x" * 401}" }}\n',
        f'note = "{"x" * 45}..."',
        "at most 400 characters",
    ),
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", style = @"filn" }\n',
        'style = "filn"',
        '"film", "oxide", "carbon composition" or "wirewound" (did you mean "film"?)',
    ),
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", basis = @"guess" }\n',
        'basis = "guess"',
        '"data sheet", "measured" or "assumed", or a table in { }',
    ),
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", basis = { value = @"guess" } }\n',
        'value = "guess"',
        '"data sheet", "measured" or "assumed"',
    ),
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", basis = { @vlaue = "measured" } }\n',
        'value "vlaue"',
        'one of power, style, tolerance, value, voltage (did you mean "value"?)',
    ),
    (
        '[parts]\nTB1 = { kind = "terminal strip", lugs = @"5" }\n',
        'lugs = "5"',
        "a whole number, without quotes",
    ),
    ('[parts]\nTB1 = { kind = "terminal strip", lugs = @0 }\n', "lugs = 0", "1 or more"),
    ('[parts]\nTB1 = { kind = "terminal strip", lugs = @50 }\n', "lugs = 50", "40 or less"),
    (
        '[parts]\nTB1 = { kind = "terminal strip", lugs = 5, insulated = @"yes" }\n',
        'insulated = "yes"',
        "true or false, without quotes",
    ),
    (
        '[parts]\nTB1 = { kind = "terminal strip", lugs = 5, mounting = @[7] }\n',
        "mounting = a list of 1",
        "numbers of the 5 lugs there are",
    ),
    # lists, lengths, tables
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", size = @[1, 2] }\n',
        "size = a list of 2",
        "a list of 3 lengths, such as [62, 40, 25]",
    ),
    (
        '[parts]\nR1 = { kind = "resistor", value = "1k", size = [1, 2, @-3] }\n',
        "entry 3 of size = -3",
        "more than zero and at most 5 m (a number without a unit is millimetres)",
    ),
    (
        R1 + "[layout]\nR1 = { at = @[1] }\n",
        "at = a list of 1",
        "a list of 2 lengths, such as [62, 40]",
    ),
    (R1 + '[layout]\nR1 = { at = @"x" }\n', 'at = "x"', "a list of 2 lengths, such as [62, 40]"),
    (
        R1 + "[layout]\nR1 = { at = [@true, 1] }\n",
        "entry 1 of at = true",
        'a number of millimetres, or text with its unit, such as "2.5 in"',
    ),
    (
        R1 + "[layout]\nR1 = { at = [1, @9999] }\n",
        "entry 2 of at = 9999",
        "at most 5 m from the corner (a number without a unit is millimetres)",
    ),
    (R1 + "[layout]\nR1 = { at = [1, 2], turn = @nan }\n", "turn = nan", "a finite number"),
    (
        R1 + "[layout]\nR1 = { at = [1, 2], turn = @true }\n",
        "turn = true",
        "a number, without quotes",
    ),
    (
        R1 + "[layout]\nR1 = { at = [1, 2], leads_through = @5 }\n",
        "leads_through = 5",
        "text in quotes, or a table in { }",
    ),
    (R1 + "[layout]\nR1 = @5\n", "R1 = 5", "a table with at"),
    (
        '[parts]\nS1 = { kind = "switch", positions = { on = ["1-2", @"34"] } }\n',
        'entry 2 of on = "34"',
        'two terminals with a "-" between them, such as "1-2"',
    ),
    (
        '[parts]\nS1 = { kind = "switch", positions = @{} }\n',
        "positions = an empty table",
        "at least 1 entry",
    ),
    (
        '[parts]\nJ2 = { kind = "connector", role = "input", contacts = @"tip" }\n',
        'contacts = "tip"',
        "a list in [ ]",
    ),
    (
        '[parts]\nJ2 = { kind = "connector", role = "input", contacts = @["a", "a"] }\n',
        "contacts = a list of 2",
        "contacts with names that differ",
    ),
    (
        '[parts]\nJ2 = { kind = "connector", role = "input", contacts = ["tip"], shell = @"can" }\n',
        'shell = "can"',
        "one of the contacts: tip",
    ),
    # transformers
    (
        T1 + '{ voltage = "250-0-250 V", resistance = @"120" } }\n',
        'resistance = "120"',
        '2 section(s), as voltage has, such as "120+125"',
    ),
    (
        T1 + '{ voltage = @"6+6+6 V" } }\n',
        'voltage = "6+6+6 V"',
        'volts such as "6.3 V", "275-0-275 V", "0-115-230 V" or "2 x 115 V"; '
        "name further windings apart",
    ),
    (
        T1 + '{ voltage = @"275-1-275 V" } }\n',
        'voltage = "275-1-275 V"',
        'volts such as "6.3 V", "275-0-275 V", "0-115-230 V" or "2 x 115 V", with the 0 first or '
        "within",
    ),
    (
        T1 + '{ voltage = @"0-6.3-5 V" } }\n',
        'voltage = "0-6.3-5 V"',
        'taps in order, further and further from 0, such as "0-115-230 V"',
    ),
    (
        T1 + '{ voltage = @"2 x 9-0-9 V" } }\n',
        'voltage = "2 x 9-0-9 V"',
        'volts such as "6.3 V", "275-0-275 V", "0-115-230 V" or "2 x 115 V"; with centre taps, '
        "each winding by its own name",
    ),
    (
        T1 + '{ voltage = "0-5-6.3 V", no_load = @"6.9 V" } }\n',
        'no_load = "6.9 V"',
        '2 section(s), as voltage has, such as "0-5-6.3 V"',
    ),
    (
        T1.replace('"230 V"', '"2 x 115 V", resistance = @"16"') + '{ voltage = "6.3 V" } }\n',
        'resistance = "16"',
        '2 section(s), as voltage has, such as "120+125"',
    ),
    (
        T1.replace('"230 V"', '"230 V", idle_current = @"40"') + '{ voltage = "6.3 V" } }\n',
        'idle_current = "40"',
        'a current such as "90 mA" or "3.15 A"; the unit is missing',
    ),
    (
        T2.replace('"5k"', '"5k", screen_taps = @"100 %"') + '{ taps = ["0", "8"] } }\n',
        'screen_taps = "100 %"',
        'more than 0 % and less than 100 %, such as "43 %"',
    ),
    (
        T2.replace('"5k"', '"5k", leakage = @"20"') + '{ taps = ["0", "8"] } }\n',
        'leakage = "20"',
        'an inductance such as "10 H" or "150 mH"; the unit is missing',
    ),
    (
        '[parts]\nL1 = { kind = "choke", inductance = "10 H", current = "90 mA", '
        'saturation = @"80 mA" }\n',
        'saturation = "80 mA"',
        "more than current, at which the whole inductance is there",
    ),
    (
        '[parts]\nRV1 = { kind = "potentiometer", value = "10k", setting = @"130 %" }\n',
        'setting = "130 %"',
        'at most 100 %, such as "30 %"',
    ),
    # transistors and other guests of a supply
    (
        '[parts]\nQ1 = { kind = "bipolar transistor", polarity = @"nnp" }\n',
        'polarity = "nnp"',
        '"npn" or "pnp"',
    ),
    (
        '[parts]\nQ1 = { kind = "bipolar transistor", polarity = "npn", gain = @"100" }\n',
        'gain = "100"',
        "a number, without quotes",
    ),
    (
        '[parts]\nQ1 = { kind = "bipolar transistor", polarity = "npn", gain = @0.5 }\n',
        "gain = 0.5",
        "1 or more",
    ),
    (
        '[parts]\n@Q1 = { kind = "mosfet" }\n',
        'Q1 without "channel"',
        'it to be given: "n" or "p"',
    ),
    (
        '[parts]\nQ1 = { kind = "mosfet", channel = "n", transconductance = @"2" }\n',
        'transconductance = "2"',
        'a transconductance such as "1.6 mS" or "1600 umho"; the unit is missing',
    ),
    (
        '[parts]\nQ1 = { kind = "mosfet", channel = "n", safe_area = ["3 A at 10 V", @"100 V 0.4 A"] }\n',
        'entry 2 of safe_area = "100 V 0.4 A"',
        'a current at a voltage, such as "0.4 A at 100 V"',
    ),
    (
        '[parts]\nQ1 = { kind = "mosfet", channel = "n", safe_area = @["3 A at 10 V", "4 A at 20 V"] }\n',
        "safe_area = a list of 2",
        "points in order of voltage, the current nowhere rising",
    ),
    (
        '[parts]\nQ1 = { kind = "mosfet", channel = "n", thermal_resistance = @"8 W" }\n',
        'thermal_resistance = "8 W"',
        'a thermal resistance such as "12 K/W"; this reads as a power',
    ),
    (
        '[parts]\nL1 = { kind = "choke", inductance = "10 H", stray = @"30 uT" }\n',
        'stray = "30 uT"',
        'a field at a distance, such as "30 uT at 100 mm"',
    ),
    (
        '[parts]\nL1 = { kind = "choke", inductance = "10 H", stray = @"30 at 100 mm" }\n',
        'stray = "30"',
        'a magnetic field such as "30 uT" or "300 mG"; the unit is missing',
    ),
    (
        '[parts]\nL1 = { kind = "choke", inductance = "10 H", stray = @"30 uT at 100 mA" }\n',
        'stray = "100 mA"',
        'a length such as "120 mm" or "3/4 in" or "1-1/8 in"; this reads as a current',
    ),
    (
        '[parts]\nL1 = { kind = "choke", inductance = "10 H", stray = @"30 uT at 0 mm" }\n',
        'stray = "30 uT at 0 mm"',
        "at a distance between 10 mm and 2 m from the middle of the part",
    ),
    (
        '[parts]\nU1 = { kind = "regulator", voltage = @"0 V" }\n',
        'voltage = "0 V"',
        'more than zero, or less for a negative one, such as "-12 V"',
    ),
    (
        '[parts]\nRT1 = { kind = "thermistor", cold = "10", energy = @"30 W" }\n',
        'energy = "30 W"',
        'an energy such as "10 J"; this reads as a power',
    ),
    (
        '[parts]\n@RT1 = { kind = "thermistor" }\n',
        'RT1 without "cold"',
        'it to be given, such as cold = "47k"',
    ),
    (
        '[parts]\nW1 = { kind = "cord", conductor = @"0.75" }\n',
        'conductor = "0.75"',
        'a wire size such as "18 AWG", "0.75 mm2" or "24/0.2 mm"',
    ),
    (
        '[parts]\nW1 = { kind = "cord", strain_relief = @"clamp" }\n',
        'strain_relief = "clamp"',
        "true or false, without quotes",
    ),
    (
        T1 + '{ voltage = "6.3 V" }, windings.@"a.b" = { voltage = "6.3 V" } }\n',
        'the name "a.b"',
        'a name without a dot, such as "ht"',
    ),
    (
        T2 + '{ taps = @["4", "8"] } }\n',
        "taps = a list of 2",
        'taps from the common end upward, such as ["0", "4", "8"]',
    ),
    (
        T2 + '{ taps = ["0", @8] } }\n',
        "entry 2 of taps = 8",
        "text in quotes",
    ),
    # ends
    (R1 + "[schematic]\nR1 = @5\n", "R1 = 5", NAMES),
    (R1 + '[schematic]\nR1 = ["a", @5]\n', "entry 2 of R1 = 5", "text in quotes"),
    (R1 + '[schematic]\nR1 = ["a", @""]\n', 'entry 2 of R1 = ""', "at least 1 character"),
    (
        R1 + '[schematic]\nR1 = ["a", @" b"]\n',
        'entry 2 of R1 = " b"',
        "a name with no space at either end",
    ),
    (R1 + '[schematic]\nR1 = @"a"\n', "one name for R1", "2, in this order: 1, 2"),
    (R1 + '[schematic]\nR1 = @["a"]\n', "1 name for R1", "2, in this order: 1, 2"),
    (
        R1 + '[schematic]\nR1 = { 1 = "a", @3 = "b" }\n',
        'terminal "3" of R1',
        "one of 1, 2",
    ),
    (
        R1 + '[schematic]\nR1 = { @1 = ["a", "b"] }\n',
        'a list for "1" of R1',
        "one name",
    ),
    (
        R1 + '[schematic]\n@R2 = ["a", "b"]\n',
        "R2, which is not listed",
        "a part of [parts]",
    ),
    (
        T1 + '{ voltage = "6-0-6 V" } }\n[schematic]\nT1 = { @th = ["a", "b", "c"] }\n',
        'a list for "th" of T1',
        "one of its windings: ht, primary",
    ),
    (
        T1 + '{ voltage = "6-0-6 V" } }\n[schematic]\nT1 = { ht = @["a", "b"] }\n',
        "2 names for T1 ht",
        '3, in this order: ht.1, ht.ct, ht.2; or single ones, such as "ht.1" = "..."',
    ),
    (
        T1 + '{ voltage = "6-0-6 V" } }\n[schematic]\nT1 = { @ht = "a" }\n',
        'one name for "ht" of T1',
        '3, in this order: ht.1, ht.ct, ht.2; or single ones, such as "ht.1" = "..."',
    ),
    (
        '[parts]\nV1 = { kind = "tube", type = "6J5" }\n[schematic]\nV1 = @["a", "b"]\n',
        "a list for V1",
        'names by pin, such as { 1 = "..." }',
    ),
    (
        '[parts]\nV1 = { kind = "tube", type = "6J5" }\n[schematic]\nV1 = { @19 = "a" }\n',
        'pin "19" of V1',
        "a pin from 1 to 8, or plate, grid, cathode",
    ),
    (
        '[parts]\nV1 = { kind = "tube", type = "6J5" }\n[schematic]\nV1 = { @plat = "a" }\n',
        'pin "plat" of V1',
        'a pin from 1 to 8, or plate, grid, cathode (did you mean "plate"?)',
    ),
    (
        '[parts]\nV1 = { kind = "tube", type = "6J5" }\n'
        '[schematic]\nV1 = { 5 = "a", @grid = "b" }\n',
        '"grid" of V1, given twice',
        "each once",
    ),
    (
        '[parts]\nV1 = { kind = "tube", type = "6CG7" }\n[schematic]\nV1 = { @plate = "a" }\n',
        'pin "plate" of V1',
        "a pin from 1 to 9 (it has 2 sections: electrode names are not enough)",
    ),
    (
        '[parts]\nV1 = { kind = "tube", type = "9X9" }\n[schematic]\nV1 = { @plate = "a" }\n',
        'pin "plate" of V1',
        "a pin from 1 to 9 (9X9 is not in the library: its electrodes are not known by name)",
    ),
    # what refers to what
    (
        R1 + '[expect]\n@B9 = "5 V"\n[schematic]\nR1 = ["B1", "0V"]\n',
        'net "B9"',
        "a net of [schematic]",
    ),
    (
        R1 + '[layout]\nR1 = { at = [1, 2], leads_through = @"H1" }\n',
        'hole "H1"',
        "one from [holes]",
    ),
    (
        T1 + '{ voltage = "6 V" } }\n[holes]\nH1 = { at = [1, 2], diameter = "8 mm" }\n'
        '[layout]\nT1 = { at = [1, 2], leads_through = { @primry = "H1" } }\n',
        'winding "primry" of T1',
        'one of primary, ht (did you mean "primary"?)',
    ),
    (
        T1 + '{ voltage = "6 V" }, lead = @"hokup" }\n[wire_types]\nhookup = { size = "22 AWG" }\n',
        'wire type "hokup"',
        'one from [wire_types] (did you mean "hookup"?)',
    ),
    (
        '[parts]\nL1 = { kind = "choke", inductance = "10 H", lead = @"hokup" }\n'
        '[wire_types]\nhookup = { size = "22 AWG" }\n',
        'wire type "hokup"',
        'one from [wire_types] (did you mean "hookup"?)',
    ),
    (
        '[parts]\nE1 = { kind = "chassis bond", piece = @"bottom" }\n',
        'piece = "bottom"',
        '"chassis", or a cover from chassis.covers',
    ),
    (
        R1 + '[tubes]\nmine = { like = @"12AX77", source = "bench" }\n',
        'like = "12AX77"',
        'a tube type that is known (did you mean "12AX7"?)',
    ),
    # acceptances
    (
        R1 + '[[accept]]\nrule = "a/b"\nabout = "R1"\nreason = "long enough"\nby = "m"\n'
        'date = @"2026-01-01"\n',
        'date = "2026-01-01"',
        "a date without quotes, such as 2026-11-25",
    ),
    (
        R1 + '[[accept]]\nrule = "a/b"\nabout = "R1"\nreason = "long enough"\nby = "m"\n'
        "date = 2026-01-01\nuntil = @2025-12-31\n",
        "until = 2025-12-31",
        "a date on or after 2026-01-01",
    ),
    (
        R1 + '@[[accept]]\nrule = "a/b"\nabout = "R1"\nreason = "long enough"\nby = "m"\n',
        'entry 1 of accept without "date"',
        "it to be given",
    ),
]


@pytest.mark.parametrize(("body", "found", "expected"), CASES, ids=[c[1][:40] for c in CASES])
def test_one_line_at_the_culprit(body: str, found: str, expected: str) -> None:
    said, marks = messages(body)
    assert said == [f"{mark}: found {found}, expected {expected}" for mark in marks]
    assert len(said) == 1


HEADS = [
    ("format = @2\n", "format = 2", "1"),
    ('format = @"1"\n', 'format = "1"', "1"),
]


@pytest.mark.parametrize(("first", "found", "expected"), HEADS)
def test_the_format_is_checked(first: str, found: str, expected: str) -> None:
    said, marks = messages(first + HEAD.partition("\n")[2] + R1, head="")
    assert said == [f"{marks[0]}: found {found}, expected {expected}"]


def test_chapters_that_are_not_there_are_named_at_the_top() -> None:
    said, _marks = messages("format = 1\n", head="")
    assert said == [
        f'x:1:1: found no "{chapter}", expected it to be given'
        for chapter in ("project", "site", "parts")
    ]


def test_all_troubles_come_at_once_in_the_order_of_the_file() -> None:
    said, marks = messages(
        '[parts]\nR1 = { kind = "resistor", value = @1 }\nR2 = { kind = @"x" }\n'
        "[layout]\nR1 = { at = @5 }\n"
    )
    assert [line.partition(": ")[0] for line in said] == marks


# Words of the validator and of Python that mean nothing at the bench.
JARGON = (
    "tuple",
    "dict",
    "string",
    "boolean",
    "integer",
    "float",
    "pattern",
    "validation",
    "instance",
    "object",
    "None",
    "pydantic",
    "Input",
    "regex",
    "decimal",
)


@pytest.mark.parametrize("value", ["5", "5.5", "true", '"x"', "[]", "{}", "2026-01-01", "[[]]"])
def test_no_jargon_leaks_wherever_a_wrong_value_stands(value: str) -> None:
    """Every key of every kind of table in the demos in turn is given a wrong value."""
    wrong = read_text(f"x = {value}\n".encode(), "x")[0]["x"]
    seen: set[tuple[str, ...]] = set()
    for demo in DEMOS:
        raw = parsed(demo)
        for table, key in list(_keys(raw, seen)):
            kept = table[key]
            table[key] = wrong
            try:
                load(raw, Positions(""), "x")
            except InputError as error:
                for trouble in error.troubles:
                    words = trouble.expected.replace("terminal strip", "")
                    assert not [word for word in JARGON if word in words], trouble.text()
                    assert trouble.expected and trouble.found and "\n" not in trouble.text()
            table[key] = kept


def _keys(here: object, seen: set[tuple[str, ...]]) -> list[tuple[dict[str, Any], str]]:
    """Tables with each of their keys, one of each shape: parts by kind, others by type."""
    found: list[tuple[dict[str, Any], str]] = []

    def walk(value: object, path: tuple[str, ...]) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                shape = (*path, key)
                if path in (("parts",), ("schematic",), ("leads",), ("layout",), ("wires",)):
                    kind = inner.get("kind", "") if isinstance(inner, dict) else ""
                    shape = (*path, f"{type(inner).__name__} {kind}")
                if shape not in seen:
                    seen.add(shape)
                    found.append((value, key))
                walk(inner, shape)
        elif isinstance(value, list) and value:
            walk(value[0], (*path, "[]"))

    walk(here, ())
    return found
