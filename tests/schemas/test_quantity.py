"""Builder's notation, against IEC 60062, IEC 60063, ASTM B258 and the strictness we promise."""

import csv
import math
import random
import time
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.schemas.quantity import QuantityError, parse, parse_gauge, parse_sections, show
from coldcheck.schemas.units import SUFFIXES, UNITS

DATA = Path(__file__).parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


ACCEPTED = [
    ("47k", "ohm", 47e3),
    ("4k7", "ohm", 4.7e3),
    ("4k7 ohm", "ohm", 4.7e3),
    ("47k ohm", "ohm", 47e3),
    ("47 kΩ", "ohm", 47e3),
    ("47 k\u2126", "ohm", 47e3),
    ("1M", "ohm", 1e6),
    ("2.2 meg", "ohm", 2.2e6),
    ("50 mohm", "ohm", 0.05),
    ("245", "ohm", 245.0),
    ("1e3", "ohm", 1000.0),
    ("30 uT", "T", 3e-5),
    ("300 mG", "T", 3e-5),
    ("0.1u", "F", 1e-7),
    ("0.1 \u00b5F", "F", 1e-7),
    ("0.1 \u03bcF", "F", 1e-7),
    ("100n", "F", 1e-7),
    ("47 uF", "F", 47e-6),
    ("2m2", "F", 2.2e-3),
    ("10 H", "H", 10.0),
    ("150 mH", "H", 0.15),
    ("1/2 W", "W", 0.5),
    ("1/4W", "W", 0.25),
    ("0W6", "W", 0.6),
    ("275 V", "V", 275.0),
    ("-42 V", "V", -42.0),
    ("\u221242 V", "V", -42.0),
    ("5V1", "V", 5.1),
    ("1.5 kV", "V", 1500.0),
    ("90 mA", "A", 0.09),
    ("3A15", "A", 3.15),
    ("3/4 in", "m", 0.01905),
    ("1-1/8 in", "m", 0.028575),
    ("1 1/8 in", "m", 0.028575),
    ("0.062 in", "m", 0.0015748),
    ('3/8"', "m", 0.009525),
    ("1.5 mm", "m", 0.0015),
    ("2 ft", "m", 0.6096),
    ("1.5 mm2", "m2", 1.5e-6),
    ("24 cm²", "m2", 24e-4),
    ("20 s", "s", 20.0),
    ("2 min", "s", 120.0),
    ("1000 h", "s", 3.6e6),
    ("30 degC", "degC", 30.0),
    ("30 °C", "degC", 30.0),
    ("86 degF", "degC", 30.0),
    ("5 %", "%", 0.05),
    ("88 dB", "dB", 88.0),
    ("50 Hz", "Hz", 50.0),
    ("60 VA", "VA", 60.0),
    ("1600 umho", "S", 1.6e-3),
    ("1.6 mA/V", "S", 1.6e-3),
    ("2.5 kg", "kg", 2.5),
    ("21 ohm/km", "ohm/m", 0.021),
]


@pytest.mark.parametrize(("text", "unit", "value"), ACCEPTED)
def test_builder_s_text_is_read(text: str, unit: str, value: float) -> None:
    assert parse(text, unit) == value


REFUSED = [
    ("1m", "ohm", 'write "1M" for a megohm, "1 mohm" for a milliohm'),
    ("1m", "F", 'microfarads are written "uF"'),
    ("100 mfd", "F", 'microfarads are written "uF"'),
    ("100", "F", "the unit is missing"),
    ("10", "H", "the unit is missing"),
    ("275", "V", "the unit is missing"),
    ("90", "A", "the unit is missing"),
    ("5", "W", "the unit is missing"),
    ("12", "m", "the unit is missing"),
    ("20", "s", "the unit is missing"),
    ("30", "degC", "the unit is missing"),
    ("5", "%", "the unit is missing"),
    ("50", "Hz", "the unit is missing"),
    ("4k7", "V", "a voltage such as"),
    ("1,5 kV", "V", "the decimal sign is a point"),
    ("1.000,0 V", "V", "the decimal sign is a point"),
    ("1 000 V", "V", "no space inside the number"),
    ("3.3.3 V", "V", "a voltage such as"),
    ("\u0663\u0660\u0660 V", "V", "digits 0 to 9"),
    ("\uff13\uff10 V", "V", "digits 0 to 9"),
    ("90 mA", "V", "this reads as a current"),
    ("1 KV", "V", 'capitals matter, write "kV"'),
    ("47 nf", "F", 'capitals matter, write "nF"'),
    ("50 HZ", "Hz", 'capitals matter, write "Hz"'),
    ("10 MA", "A", "a current such as"),
    ("nan", "ohm", "a resistance such as"),
    ("inf V", "V", "a voltage such as"),
    ("1e999 V", "V", "a voltage such as"),
    ("275-0-275 V", "V", "a voltage such as"),
    ("-4k7", "ohm", "a resistance is not negative"),
    ("4k7J", "ohm", "a resistance such as"),
    ("1/0 in", "m", "a length such as"),
    ("1-9/8 in", "m", "a length such as"),
    ("1-1/2 W", "W", "a power such as"),
    ("1/2", "W", "a power such as"),
    ("10 mil", "m", "a length such as"),
    ("0x10 V", "V", "a voltage such as"),
    ("1_000 V", "V", "a voltage such as"),
    ("", "ohm", "a resistance such as"),
    ("   ", "ohm", "a resistance such as"),
    ("ohm", "ohm", "a resistance such as"),
    ("5 V\n", "V", "a voltage such as"),
    ("5\tV", "V", "a voltage such as"),
    ("1" * 33, "ohm", "at most 32 characters"),
]


@pytest.mark.parametrize(("text", "unit", "says"), REFUSED)
def test_doubtful_text_is_refused_with_advice(text: str, unit: str, says: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, unit)
    assert says in caught.value.expected
    assert caught.value.expected.startswith(UNITS[unit].what)
    assert len(caught.value.found) <= 32


def test_large_and_small_m_are_never_traded() -> None:
    with pytest.raises(QuantityError) as caught:
        parse("10 MA", "A")
    assert "write" not in caught.value.expected


def test_an_error_prints_in_one_clean_line() -> None:
    with pytest.raises(QuantityError) as caught:
        parse("\x1b[2J\u202e5 V\n", "V")
    assert str(caught.value).isprintable()


@pytest.mark.parametrize("row", rows("iec60062.csv"), ids=lambda row: row["code"])
def test_iec_60062_codes(row: dict[str, str]) -> None:
    assert parse(row["code"], row["unit"]) == float(row["value"])


def test_iec_60063_values_read_the_same_in_every_decade_and_spelling() -> None:
    series = tomllib.loads((DATA / "iec60063.toml").read_text(encoding="utf-8"))["e_series"]
    seen = 0
    for name, values in series.items():
        scale = 10 if max(values) < 100 else 100
        assert len(values) == int(name[1:])
        for value in values:
            whole, rest = divmod(value, scale)
            for letter, power in (("R", 0), ("k", 3), ("M", 6)):
                want = float(f"{value}e{power - int(math.log10(scale))}")
                assert parse(f"{whole}{letter}{rest:0{len(str(scale)) - 1}}", "ohm") == want
                assert parse(f"{value / scale}{letter}", "ohm") == want
                seen += 1
    assert seen == 3 * (3 + 6 + 12 + 24 + 48 + 96)


LETTERS = [(unit, letter) for unit in ("ohm", "F") for letter in UNITS[unit].letters]


@given(
    st.sampled_from(LETTERS),
    st.integers(0, 999_999),
    st.text("0123456789", min_size=1, max_size=6),
)
def test_a_letter_for_the_point_means_the_decimal_form(
    which: tuple[str, str], whole: int, rest: str
) -> None:
    unit, letter = which
    power = UNITS[unit].letters[letter]
    assert parse(f"{whole}{letter}{rest}", unit) == float(f"{whole}.{rest}e{power}")


@given(st.sampled_from(sorted(UNITS)), st.data())
def test_decimal_text_is_scaled_exactly(unit: str, data: st.DataObject) -> None:
    powers = {text: step for text, step in SUFFIXES[unit].items() if isinstance(step, int)}
    ending = data.draw(st.sampled_from(sorted(powers)))
    number = f"{data.draw(st.integers(0, 99999))}.{data.draw(st.integers(0, 999)):03}"
    assert parse(f"{number} {ending}".rstrip(), unit) == float(f"{number}e{powers[ending]}")


@given(st.sampled_from(sorted(UNITS)), st.floats(1e-14, 1e14), st.booleans())
def test_what_is_shown_reads_back_to_three_figures(unit: str, value: float, minus: bool) -> None:
    if unit in ("degC", "dB", "V", "A", "m", "%") and minus:
        value = -value
    text = show(value, unit)
    assert parse(text, unit) == pytest.approx(value, rel=5.1e-3)
    assert "e+" not in text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (47e3, "ohm", "47 kohm"),
        (0.85e-3, "A", "0.85 mA"),
        (315.0, "V", "315 V"),
        (1234.0, "V", "1230 V"),
        (22.4, "s", "22.4 s"),
        (600.0, "s", "10 min"),
        (12.5, "W", "12.5 W"),
        (0.0015, "m", "1.50 mm"),
        (0.3, "m", "300 mm"),
        (999.6, "ohm", "1 kohm"),
        (0.47, "ohm", "0.47 ohm"),
        (0.022e-6, "F", "22 nF"),
        (470e-6, "F", "470 uF"),
        (0.05, "%", "5 %"),
        (72.43, "degC", "72.4 degC"),
        (0.0, "V", "0 V"),
        (-0.0, "V", "0 V"),
        (8e-7, "m2", "0.8 mm2"),
        (math.inf, "s", "infinite"),
        (-math.inf, "V", "minus infinite"),
        (math.nan, "V", "not a number"),
        (2.5, "", "2.5"),
        (19.2, "A2s", "19.2 A2s"),
        (3e-5, "T", "30 uT"),
        (3.14159, "lm", "3.14 lm"),
    ],
)
def test_numbers_are_shown_for_a_reader(value: float, unit: str, text: str) -> None:
    assert show(value, unit) == text


def test_more_figures_on_request() -> None:
    assert show(0.0015748, "m", 4) == "1.575 mm"
    assert show(1234.5, "V", 5) == "1234.5 V"


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_every_example_and_every_output_unit_reads(unit: str) -> None:
    for example in UNITS[unit].examples:
        assert parse(example, unit) > 0
        assert example in UNITS[unit].expected
    for _, label in UNITS[unit].steps:
        assert parse(f"2 {label}", unit) > 0
    least = [step for step, _ in UNITS[unit].steps]
    assert least == sorted(least, reverse=True) and least[-1] == 0.0


def test_three_thousand_odd_texts_raise_nothing_else_and_take_no_time() -> None:
    letters = "0123456789.+-/ eEkKmMuRΩµpnVAWFHz%°C\x00\x1b\u202e\u0663,_\"'()[]{}\n\t\U0001f600"
    chance = random.Random(60062)
    texts = ["".join(chance.choices(letters, k=chance.randint(0, 40))) for _ in range(2990)]
    texts += ["9" * 10**6, "1-" * 5000, "." * 40, "1+" * 32, "1" + " " * 31, "1/" * 16]
    texts += ["1e" * 16, "(" * 10**5, "0" * 31 + "V", "-0-" * 10]
    units = sorted(UNITS)
    slowest = 0.0
    for index, text in enumerate(texts):
        started = time.process_time()
        for read in (parse, parse_sections):
            try:
                read(text, units[index % len(units)])
            except QuantityError as error:
                assert error.expected
        try:
            parse_gauge(text)
        except QuantityError as error:
            assert error.expected
        slowest = max(slowest, time.process_time() - started)
    assert slowest < 0.05  # a guard against a pattern that backtracks, not a performance claim


@pytest.mark.parametrize(
    ("text", "unit", "values"),
    [
        ("275-0-275 V", "V", (275.0, 275.0)),
        ("250 - 0 - 250 V", "V", (250.0, 250.0)),
        ("6.3 V", "V", (6.3,)),
        ("3.15-0-3.15 V", "V", (3.15, 3.15)),
        ("6.3+6.3 V", "V", (6.3, 6.3)),
        ("115 V + 115 V", "V", (115.0, 115.0)),
        ("120+125", "ohm", (120.0, 125.0)),
        ("120 + 125 ohm", "ohm", (120.0, 125.0)),
        ("1.0 + 1.1 kohm", "ohm", (1000.0, 1100.0)),
        ("1k+1k1", "ohm", (1000.0, 1100.0)),
        ("245", "ohm", (245.0,)),
    ],
)
def test_winding_sections(text: str, unit: str, values: tuple[float, ...]) -> None:
    assert parse_sections(text, unit) == values


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("120+1k", "ohm", "each section with its own unit"),
        ("275-0-275", "V", "275-0-275 V"),
        ("275-1-275 V", "V", "275-0-275 V"),
        ("275-0 V", "V", "275-0-275 V"),
        ("+", "ohm", "120+125"),
        ("120++125", "ohm", "120+125"),
        ("+".join("1" * 9), "ohm", "at most 8 sections"),
        ("1+" * 40, "ohm", "at most 64 characters"),
        ("6.3", "V", "the unit is missing"),
    ],
)
def test_doubtful_sections_are_refused(text: str, unit: str, says: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_sections(text, unit)
    assert says in caught.value.expected


@pytest.mark.parametrize("row", rows("wire_awg.csv"), ids=lambda row: f"{row['awg']} AWG")
def test_wire_gauge_against_astm_b258_and_ac_43_13(row: dict[str, str]) -> None:
    gauge = parse_gauge(f"{row['awg']} AWG")
    assert gauge == parse_gauge(f"AWG {row['awg']}")
    assert gauge.diameter * 1e3 == pytest.approx(float(row["dia_mm"]), abs=6e-5)
    assert gauge.area * 1e6 == pytest.approx(float(row["area_mm2"]), abs=6e-5)
    if row["ac4313_max_ohm_per_m"]:
        # Annealed copper, IACS: 17.241 nohm m at 20 C.  The aviation sizes carry a little more or
        # less copper than the solid gauge and are tinned, so they agree within 28 %.
        ratio = float(row["ac4313_max_ohm_per_m"]) / (1.7241e-8 / gauge.area)
        assert 0.97 < ratio < 1.28


def test_other_wire_sizes() -> None:
    assert parse_gauge("4/0 AWG").diameter == pytest.approx(0.46 * 0.0254, rel=1e-12)  # ASTM B258
    assert parse_gauge("36 AWG").diameter == pytest.approx(0.005 * 0.0254, rel=1e-12)  # ASTM B258
    assert parse_gauge("0.75 mm2").area == 0.75e-6
    assert parse_gauge("24/0.2 mm").area == pytest.approx(0.754e-6, rel=1e-3)
    for text in ("0.5 mm", "22 SWG", "41 AWG", "18", "0 mm2", "5/0 AWG", "9 m2"):
        with pytest.raises(QuantityError):
            parse_gauge(text)
