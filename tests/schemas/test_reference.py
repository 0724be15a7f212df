"""The reference libraries: every number has a source, and agrees with what was published.

Sources of the values written out below: Littelfuse 218, 215 and 617 data sheets (IEC 60127-2
sheets 3, 5 and 2), UL 248-14 in the Littelfuse fuseology guide, FAA AC 43.13-1B, IEC 60228,
IEC 60038, and the tube sheets named in data/tube_rows.csv.
"""

from __future__ import annotations

import csv
import math
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lint.model import Basis
from coldcheck.schemas.quantity import parse_gauge
from coldcheck.schemas.rated import Rated, chapter, unit_of
from coldcheck.schemas.reference import (
    TubeLaw,
    TubeType,
    ampacity_for_area,
    breaking_capacity,
    bundle_ampacity,
    bundle_derating,
    bundle_diameter,
    capacitor_safety_class,
    capacitor_surge_ratio,
    fact,
    fuse_gates,
    fuse_item,
    fuse_ratings,
    grommets,
    mains_range,
    mains_regions,
    open_air_ampacity,
    resistor_derating,
    resistor_voltage_default,
    socket,
    tube,
    tube_like,
    tube_names,
    wire_resistance,
    wire_style,
)

LIBRARY = Path(sys.modules[Rated.__module__].__file__ or "").with_name("library")
FILES = sorted(path.stem for path in LIBRARY.glob("*.toml"))
BASES = {basis.value for basis in Basis}
TYPES = sorted(chapter("tubes").tables["tubes"])


def rows() -> list[dict[str, str]]:
    path = Path(__file__).parent / "data" / "tube_rows.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def stages() -> list[dict[str, str]]:
    path = Path(__file__).parents[1] / "physics" / "data" / "stages.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def known(name: str) -> TubeType:
    found = tube(name)
    assert found is not None
    return found


def law_of(name: str) -> TubeLaw:
    """The law of a type; of unlike sections ``6BM8.2`` is that of the second."""
    kind, _, number = name.partition(".")
    law = known(kind).law[int(number or 1)]
    assert law is not None
    return law


def entries(here: Any) -> Iterator[Mapping[str, Any]]:
    """Innermost tables: those that hold numbers and must say where they are from."""
    if isinstance(here, dict):
        yield here
        for item in here.values():
            yield from entries(item)
    elif isinstance(here, list):
        for item in here:
            yield from entries(item)


NUMERIC = re.compile(r"[0-9.]+ (V|A|mA|W|ohm|kohm|Mohm|uF|pF|s|mm|degC|A2s|mV)")


@pytest.mark.parametrize("name", FILES)
def test_every_number_names_a_source_and_every_source_is_used(name: str) -> None:
    text = (LIBRARY / f"{name}.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    sources = tables.pop("sources")
    for source in sources.values():
        assert source["basis"] in BASES
        assert len(source["text"]) > 10
    seen = 0
    used: set[str] = set()
    for entry in entries(tables):
        cited = [key for name, key in entry.items() if name == "from" or name.endswith("_from")]
        for keys in cited:
            used.update(one.strip() for one in keys.split("+"))
        numbers = [
            key
            for key, item in entry.items()
            if (isinstance(item, str) and NUMERIC.fullmatch(item))
            or (isinstance(item, int | float) and key in ("value", "multiple", "perveance"))
        ]
        if numbers and "perveance" not in numbers:
            assert cited, entry
            seen += 1
    assert used == set(sources)
    assert seen > 0
    assert not re.search(r"https?:|www\.|\.(com|org|net)\b", text)


def test_no_library_is_read_until_it_is_asked_for() -> None:
    program = (
        "import sys; import coldcheck.schemas.reference as r; from coldcheck.schemas.rated import "
        "chapter; assert chapter.cache_info().currsize == 0; r.tube('12AX7'); "
        "assert chapter.cache_info().currsize == 1; "
        "assert not {'pydantic', 'numpy', 'networkx', 'rich'} & set(sys.modules)"
    )
    path = str(Path(__file__).parents[2] / ".src")
    subprocess.run([sys.executable, "-c", program], check=True, env={"PYTHONPATH": path})


@pytest.mark.parametrize("name", TYPES)
def test_a_tube_is_whole(name: str) -> None:
    kind = known(name)
    assert kind.name == name
    assert kind.limits
    assert kind.rating_system
    assert kind.pins_basis in BASES
    for label, rated in [*kind.limits.items(), *kind.capacitance.items()]:
        assert rated.value > 0
        assert rated.basis in BASES
        assert rated.source
        if label in kind.limits:
            assert rated.unit == unit_of(label)
    for option in kind.heater:
        assert 0 < option.volts * option.amperes < 20
        assert option.basis in BASES and option.source
    assert set(kind.law) == {section.number for section in kind.sections}
    assert socket(kind.base) is not None
    pins = {"B7G": 7, "B9A": 9, "octal": 8, "UX4": 4}[kind.base]
    assert all(1 <= pin <= pins for pin in kind.pins)


NEEDED = {
    "triode": {"plate", "grid"},
    "pentode": {"plate", "grid", "screen", "cathode"},
    "diode": {"plate"},
    "regulator": {"anode", "cathode"},
}


@pytest.mark.parametrize("name", TYPES)
def test_the_pins_of_a_tube_cover_its_sections(name: str) -> None:
    kind = known(name)
    if not kind.pins:
        assert "Pins are not known" in kind.note
        return
    for section in kind.sections:
        wanted = NEEDED[section.kind] | (set() if kind.directly_heated else {"cathode"})
        assert wanted <= set(section.electrodes)
        assert set(section.electrodes) <= wanted | {"suppressor"}
        for electrode, pin in section.electrodes.items():
            own = {electrode, f"{electrode}_{section.number}"}
            own |= {"heater_cathode"} if electrode == "cathode" else set()
            assert kind.pins[pin] in own
    plates = [pin for one in kind.sections for e, pin in one.electrodes.items() if e == "plate"]
    assert len(plates) == len(set(plates))
    heated = {p for p, e in kind.pins.items() if e.startswith(("heater", "filament"))}
    for option in kind.heater:
        assert option.between is not None
        one, other = map(set, option.between)
        assert one and other and not one & other
        assert one | other <= heated
    assert bool(heated) == bool(kind.heater)


def test_no_name_means_two_tubes() -> None:
    names = tube_names()
    assert len({name.casefold() for name in names}) == len(names)
    for name in TYPES:
        for alias in known(name).aliases:
            assert known(alias).name == name
        for near in known(name).near:
            assert tube(near) is None
            assert tube_like(near) is known(name)
    assert known("6sl7-gt").name == "6SL7GT"
    assert known(" EL 34 ").name == "EL34"
    assert tube("no such tube") is None
    assert tube_like("no such tube") is None


def test_a_double_triode_with_a_centre_tapped_heater() -> None:
    kind = known("ECC83")
    assert [section.number for section in kind.sections] == [1, 2]
    assert kind.sections[0].electrodes == {"plate": 6, "grid": 7, "cathode": 8}
    assert kind.sections[1].electrodes == {"plate": 1, "grid": 2, "cathode": 3}
    assert kind.pins_of("heater") == (4, 5)
    assert kind.pins_of("heater_tap") == (9,)
    series, parallel = kind.heater
    assert (series.volts, series.amperes, series.between) == (12.6, 0.15, ((4,), (5,)))
    assert (parallel.volts, parallel.amperes, parallel.between) == (6.3, 0.3, ((4, 5), (9,)))


def test_an_electrode_with_several_pins_is_named_by_the_lowest() -> None:
    kind = known("6AQ5A")
    assert kind.pins_of("grid") == (1, 7)
    assert kind.sections[0].electrodes["grid"] == 1
    assert known("0A2").pins_of("cathode") == (2, 4, 7)


def test_published_limits_in_si_units() -> None:
    """GE 6V6-GT ET-T914, Philips EL34 and EF86, RCA 6CG7, Mullard GZ34 basing."""
    expected = {
        ("6V6GT", "plate_volts"): 315,
        ("6V6GT", "plate_watts"): 12,
        ("6V6GT", "screen_volts"): 285,
        ("6V6GT", "grid_leak_fixed_ohms"): 100e3,
        ("6V6GT", "grid_leak_cathode_ohms"): 500e3,
        ("EL34", "plate_volts_cold"): 2000,
        ("EL34", "cathode_amperes"): 0.15,
        ("EF86", "heater_cathode_volts_heater_positive"): 50,
        ("EF86", "heater_cathode_volts_heater_negative"): 100,
        ("6CG7", "plate_watts_both"): 5.7,
    }
    for (name, limit), value in expected.items():
        rated = known(name).limits[limit]
        assert rated.value == value
        assert rated.basis == "data sheet"
    assert known("GZ34").sections[0].electrodes == {"plate": 4, "cathode": 8}
    assert known("5Y3GT").directly_heated and not known("5AR4").directly_heated


def test_limits_of_unlike_sections() -> None:
    kind = known("ECL82")
    assert [section.kind for section in kind.sections] == ["triode", "pentode"]
    triode, pentode = kind.limit("plate_watts", 1), kind.limit("plate_watts", 2)
    assert triode is not None and triode.value == 1
    assert pentode is not None and pentode.value == 7
    assert kind.law[1] is not None and kind.law[1].form == "koren"
    assert kind.law[2] is not None and kind.law[2].form == "reefman"
    assert kind.limit("plate_watts") is None
    shared = known("12AX7").limit("plate_volts", 2)
    assert shared is not None and shared.value == 300


def test_least_supply_resistance_lies_between_its_rows() -> None:
    kind = known("EZ80")
    for volts, ohms in ((200, 125), (250, 125), (262.5, 150), (350, 300)):
        found = kind.least_supply_ohms(volts)
        assert found is not None and found.value == pytest.approx(ohms)
    assert kind.least_supply_ohms(351) is None
    assert known("12AX7").least_supply_ohms(100) is None


def softplus(x: float) -> float:
    return max(x, 0.0) + math.log1p(math.exp(-abs(x)))


def currents(law: TubeLaw, plate: float, screen: float | None, grid: float) -> tuple[float, float]:
    """Koren's equations 3 to 5 (Glass Audio 8(5), 1996) and the division of Reefman (2016, section
    4.4, alpha = 0: alpha_s = kg2 / kg1 - 1), written out again as they stand there."""
    p = law.parameters
    if law.form == "koren":
        x = p["kp"] * (1 / p["mu"] + grid / math.sqrt(p["kvb"] + plate**2))
        drive = plate / p["kp"] * softplus(x)
        return 2 * drive ** p["ex"] / p["kg1"], 0.0
    volts = plate if screen is None else screen
    drive = volts / p["kp"] * softplus(p["kp"] * (1 / p["mu"] + grid / volts))
    emission = 2 * drive ** p["ex"]
    alpha_s = p["kg2"] / p["kg1"] - 1
    share = alpha_s / p["kg2"] / (1 + p["beta"] * plate)
    ia = 1 / p["kg1"] - 1 / p["kg2"] + p["plate_pull"] * plate / p["kg1"] - share
    return emission * ia, emission / p["kg2"] * (1 + alpha_s / (1 + p["beta"] * plate))


@pytest.mark.parametrize("row", rows(), ids=lambda r: f"{r['type']} {r['Va_V']} V {r['Vg1_V']} V")
def test_current_laws_meet_the_published_rows(row: dict[str, str]) -> None:
    """No row is missed by more than the library owns to; how much that may be: test_devices."""
    law = law_of(row["type"])
    joined, total = row["connection"] == "triode connected", row["connection"] == "cathode"

    def plate_current(plate: float, grid: float) -> float:
        screen = plate if joined else float(row["Vg2_V"]) if row["Vg2_V"] else None
        ia, ig2 = currents(law, plate, screen, grid)
        return ia + ig2 if joined or total else ia

    plate, grid = float(row["Va_V"]), float(row["Vg1_V"])
    found = {"plate_current": (plate_current(plate, grid) * 1e3, row["Ia_mA"])}
    slope = (plate_current(plate, grid + 0.01) - plate_current(plate, grid - 0.01)) / 0.02
    found["transconductance"] = (slope * 1e6, row["gm_umho"])
    by_plate = (plate_current(plate + 0.1, grid) - plate_current(plate - 0.1, grid)) / 0.2
    found["plate_resistance"] = (1 / by_plate, row["rp_ohm"])
    screen_current = currents(law, plate, float(row["Vg2_V"] or plate), grid)[1] * 1e3
    found["screen_current"] = (screen_current, row["Ig2_mA"])
    owned = law.held if row["use"] == "held" else law.worst
    for quantity, (value, printed) in found.items():
        if printed:
            error = abs(value / float(printed) - 1)
            assert error <= owned[quantity] + 0.001, (quantity, value, printed)


def test_laws_count_their_rows() -> None:
    """A law fitted to one row meets it by construction; the library says how many it had."""
    for name in {row["type"] for row in rows()}:
        mine = [row for row in (*rows(), *stages()) if row["type"] == name]
        law = law_of(name)
        assert law.rows_held == sum(row["use"] == "held" for row in mine)
        if any(row["use"] == "fit" for row in mine):
            assert law.rows == sum(row["use"] == "fit" for row in mine)
            read = sum(row["level"] == "copied out" for row in mine)
            # One read row beside recalled ones is no ground to stand on; one alone is.
            grounded = read > 1 or read == len(mine)
            assert law.basis == ("derived" if grounded else "from memory")


def test_laws_say_what_they_rest_on() -> None:
    for name in TYPES:
        for law in known(name).law.values():
            if law is None:
                continue
            assert law.rows >= 1
            assert law.basis in ("derived", "from memory")
            assert all(value > 0 for value in law.parameters.values())
            keys = {"koren": 5, "reefman": 7, "three-halves": 1}[law.form]
            assert len(law.parameters) == keys
            if law.form != "three-halves":
                assert {"plate_current"} <= set(law.worst)
            assert bool(law.rows_held) == bool(law.held)


def test_rectifier_perveance_follows_from_the_published_drop() -> None:
    tubes = chapter("tubes").tables["tubes"]
    for name, entry in tubes.items():
        law = entry.get("law", {})
        if isinstance(law, list):
            assert "diode" not in entry["sections"]
            continue
        assert (law.get("form") == "three-halves") == ("diode" in entry["sections"])
        if law.get("form") != "three-halves":
            continue
        volts = float(law["drop"]["volts"].removesuffix(" V"))
        amperes = float(law["drop"]["amperes"].removesuffix(" mA")) * 1e-3
        assert law["perveance"] == pytest.approx(amperes / volts**1.5, rel=1e-3)
        assert {known(name).sections[0].kind} == {"diode"}
    # RCA RC-19: 5Y3-GT drops 60 V at 125 mA; Mullard GZ34: 17 V at 250 mA.
    assert known("5Y3GT").law[1].parameters["perveance"] == pytest.approx(2.69e-4, rel=1e-3)  # type: ignore[union-attr]
    assert known("GZ34").law[2].parameters["perveance"] == pytest.approx(3.57e-3, rel=1e-3)  # type: ignore[union-attr]


NEVER = math.inf
PUBLISHED_GATES = [
    # Littelfuse 218 (2016), IEC 60127-2 sheet 3
    (3, "T", "L", 0.1, [(1.5, 3600, NEVER), (2.1, 0, 120), (2.75, 0.2, 10), (4, 0.04, 3), (10, 0.01, 0.3)]),
    (3, "T", "L", 0.5, [(1.5, 3600, NEVER), (2.1, 0, 120), (2.75, 0.6, 10), (4, 0.15, 3), (10, 0.02, 0.3)]),
    (3, "T", "L", 10, [(1.5, 1800, NEVER), (2.1, 0, 120), (2.75, 0.6, 10), (4, 0.15, 3), (10, 0.02, 0.3)]),
    # Littelfuse 215 (2018), IEC 60127-2 sheet 5
    (5, "T", "H", 0.5, [(1.5, 3600, NEVER), (2.1, 0, 1800), (2.75, 0.25, 80), (4, 0.05, 5), (10, 0.005, 0.15)]),
    (5, "T", "H", 3.15, [(1.5, 3600, NEVER), (2.1, 0, 1800), (2.75, 0.75, 80), (4, 0.095, 5), (10, 0.01, 0.15)]),
    (5, "T", "H", 5, [(1.5, 3600, NEVER), (2.1, 0, 1800), (2.75, 0.75, 80), (4, 0.15, 5), (10, 0.01, 0.15)]),
    # Littelfuse 617 (2015), IEC 60127-2 sheet 2
    (2, "F", "L", 1, [(1.5, 3600, NEVER), (2.1, 0, 1800), (2.75, 0.05, 2), (4, 0.01, 0.3), (10, 0, 0.02)]),
    (2, "F", "L", 8, [(1.5, 1800, NEVER), (2.1, 0, 1800), (2.75, 0.05, 2), (4, 0.01, 0.4), (10, 0, 0.04)]),
]  # fmt: skip


@pytest.mark.parametrize(("sheet", "speed", "breaking", "rating", "gates"), PUBLISHED_GATES)
def test_fuse_gates_as_published(
    sheet: int, speed: str, breaking: str, rating: float, gates: list[tuple[float, float, float]]
) -> None:
    found = fuse_gates("IEC 60127-2", sheet, speed, breaking, rating)
    assert [(g.multiple, g.t_min, g.t_max) for g in found] == gates
    assert all(g.basis == "standard" and "sheet" in g.source for g in found)
    assert found == fuse_gates("IEC 60127-2", sheet, None, None, rating)


def test_ul_gates_are_not_iec_gates() -> None:
    """UL 248-14 (Littelfuse fuseology guide): 135 % within 1 h, 200 % within 2 min."""
    gates = {g.multiple: g for g in fuse_gates("UL 248-14", None, "F", None, 8)}
    assert (gates[1.35].t_max, gates[2].t_max) == (3600, 120)
    slow = {g.multiple: g for g in fuse_gates("UL 248-14", None, "T", None, 5)}
    assert (slow[2].t_min, slow[2].t_max) == (12, 120)
    assert fuse_gates(None, None, "T", None, 2) == ()


def test_an_unknown_sheet_widens_the_gates() -> None:
    both = {g.multiple: g for g in fuse_gates("IEC 60127-2", None, "T", None, 2)}
    three = {g.multiple: g for g in fuse_gates("IEC 60127-2", 3, "T", "L", 2)}
    five = {g.multiple: g for g in fuse_gates("IEC 60127-2", 5, "T", "H", 2)}
    assert set(both) == set(three) & set(five)
    for multiple, gate in both.items():
        assert gate.t_min == min(three[multiple].t_min, five[multiple].t_min)
        assert gate.t_max == max(three[multiple].t_max, five[multiple].t_max)
        assert three[multiple].source in gate.source and five[multiple].source in gate.source
    fast = fuse_gates("IEC 60127-2", None, "F", None, 1)
    assert {g.multiple for g in fast if g.basis == "from memory"} == {2.75, 4, 10}


def test_ratings_outside_every_sheet_have_no_gates() -> None:
    assert fuse_gates("IEC 60127-2", 3, "T", "L", 20) == ()
    assert fuse_gates("IEC 60127-2", 4, "T", "L", 1) == ()
    for rating in fuse_ratings():
        if 0.125 <= rating <= 6.3:
            assert len(fuse_gates("IEC 60127-2", 3, "T", "L", rating)) == 5


def test_fuse_items() -> None:
    """Littelfuse 213 and 215SP data sheets."""
    item = fuse_item("IEC 60127-2", 3, 1.6)
    assert item is not None
    assert (item.i2t, item.cold_ohms, item.drop_volts) == (44.2, 0.0551, 0.15)
    either = fuse_item("IEC 60127-2", None, 1.6)
    assert either is not None and (either.i2t, either.cold_ohms) == (6.83, 0.0707)
    assert fuse_item("IEC 60127-2", None, 1.6, breaking="L") == item
    assert fuse_item("IEC 60127-2", 3, 1.7) is None
    assert fuse_item("UL 248-14", None, 1.6) is None
    assert fuse_item(None, None, 1.6, speed="F") is None


def test_breaking_capacity() -> None:
    """IEC 60127: L = the greater of 35 A and 10 times the rating, H = 1500 A; UL by rating."""

    def amperes(*args: Any) -> float | None:
        rated = breaking_capacity(*args)
        return None if rated is None else rated.value

    assert [amperes("L", r) for r in (1, 3.5, 5)] == [35, 35, 50]
    assert (amperes("H", 5), amperes("E", 5), amperes(None, 5)) == (1500, 150, None)
    assert [amperes(None, r, "UL 248-14") for r in (1, 3, 5, 15, 20, 31)] == [
        35, 100, 200, 750, 1500, None,
    ]  # fmt: skip


def test_wire_against_ac_43_13_and_iec_60228() -> None:
    amperes = {10: 17, 12: 13, 14: 10, 16: 7, 18: 6, 20: 4, 22: 3, 24: 2.5}
    for awg, value in amperes.items():
        rated = bundle_ampacity(awg)
        assert rated is not None and rated.value == value
        assert "AC 43.13-1B" in rated.source
        assert ampacity_for_area(parse_gauge(f"{awg} AWG").area) == rated
        hotter, open_air = bundle_ampacity(awg, 200), open_air_ampacity(awg)
        assert hotter is not None and hotter.value > value
        assert open_air is not None and open_air.value > value
    assert bundle_ampacity(26) is None
    assert bundle_ampacity(22, 90) is None
    assert ampacity_for_area(0.1e-6) is None
    assert ampacity_for_area(0.75e-6) == bundle_ampacity(20)
    assert bundle_derating(1).value == 1.0
    assert bundle_derating(3).value == 0.89
    assert bundle_derating(40).value == bundle_derating(5).value == 0.76
    for row in chapter("wire").tables["metric"]["rows"]:
        area = float(row["area"].removesuffix(" mm2")) * 1e-6
        greatest = float(row["class_5"].removesuffix(" ohm/km")) * 1e-3
        # IEC 60228 gives a greatest value: pure copper of the nominal area lies under it.
        assert 0.8 < wire_resistance(area) / greatest < 1.0
    assert wire_resistance(1e-6, 70.0) / wire_resistance(1e-6) == pytest.approx(1.1965)


def test_wire_styles_and_bundles() -> None:
    style = wire_style("AWM 1015")
    assert style is not None and style == wire_style("ul1015")
    assert (style.volts, style.celsius, style.wall) == (600.0, 105.0, 0.76e-3)
    assert wire_style("UL 9999") is None
    assert [bundle_diameter(n, 2.0) for n in (0, 1, 2, 7)] == [0.0, 2.0, 4.0, 6.0]
    assert bundle_diameter(3, 1.0) == pytest.approx(1 + 2 / math.sqrt(3), rel=1e-3)
    assert bundle_diameter(4, 1.0) == pytest.approx(1 + math.sqrt(2), rel=1e-3)
    # no packing is denser than the hexagonal one
    assert all(n / bundle_diameter(n, 1.0) ** 2 <= math.pi / math.sqrt(12) for n in range(2, 60))
    wide = [bundle_diameter(n, 1.0) for n in range(1, 60)]
    assert wide == sorted(wide)


def test_parts() -> None:
    film = [resistor_voltage_default(w) for w in (0.25, 0.5, 0.6, 1, 2, 3, 10)]
    assert [one and one.value for one in film] == [150, 250, 250, 300, 350, 500, 500]
    assert resistor_voltage_default(0.1) is None
    assert resistor_voltage_default(1, "wirewound") is None
    composition = resistor_voltage_default(1, "carbon composition")
    assert composition is not None and composition.basis == "from memory"
    derating = resistor_derating("film")
    assert derating is not None and [end.value for end in derating] == [70, 155]
    assert resistor_derating("clay") is None
    for style in ("film", "oxide", "carbon composition", "wirewound"):
        ends = resistor_derating(style)
        assert ends is not None and ends[0].value < ends[1].value
    assert [capacitor_surge_ratio(v).value for v in (250, 315, 350)] == [1.15, 1.15, 1.10]
    impulse = [capacitor_safety_class(n) for n in ("X1", "X2", "Y1", "Y2", "Y4")]
    assert [one and one.impulse for one in impulse] == [4e3, 2.5e3, 8e3, 5e3, 2.5e3]
    assert capacitor_safety_class("Z1") is None
    assert socket("B8A") is None


def test_mains_ranges() -> None:
    for region in mains_regions():
        found = mains_range(region)
        assert found is not None
        assert found.least < found.nominal < found.most
        assert set(found.hertz) <= {50.0, 60.0}
    europe = mains_range("europe")
    assert europe is not None and (europe.least, europe.most) == (207, 253)  # IEC 60038
    america = mains_range("North America")
    assert america is not None and (america.least, america.most) == (114, 126)  # ANSI C84.1
    assert mains_range("Atlantis") is None


def test_grommets_fit_their_own_holes() -> None:
    assert grommets()
    for one in grommets():
        assert 0 < one.bore < one.hole
        assert one.basis == "from memory"


@pytest.mark.parametrize("library", ["fuses", "wire", "resistors", "capacitors", "grommets"])
def test_facts_are_numbers_with_a_source(library: str) -> None:
    for name in chapter(library).tables["facts"]:
        rated = fact(library, name)
        assert rated.value > 0
        assert rated.basis in BASES
    with pytest.raises(KeyError):
        fact(library, "no such fact")
    assert fact("wire", "copper_resistivity_20c") == Rated(
        1.7241e-8, "ohm m", "standard", "IEC 60028 copper, 17.241 nohm m at 20 C, 0.00393 per K, restated"
    )  # fmt: skip
