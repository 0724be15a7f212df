"""What ``coldcheck state`` prints: all computed states, or a sentence that says what is missing."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from rich.cells import cell_len

from coldcheck.lint.cli import main
from coldcheck.lint.state.text import text as text_of
from coldcheck.lint.state.values import study_of, values
from documents import DEMOS, HEAD, ROOT, STARTER

HERON = (ROOT / "projects" / "heron.toml").read_text("utf-8")
START = STARTER.read_text("utf-8")
Capture = pytest.CaptureFixture[str]


def state_json(file: Path) -> dict[str, Any]:
    return values(study_of(file))


def state_text(file: Path) -> str:
    return text_of(state_json(file))


def cut(text: str, *pieces: str) -> str:
    """A document with pieces of it taken out; each must be there."""
    for piece in pieces:
        assert piece in text
        text = text.replace(piece, "")
    return text


def chapters(text: str, *names: str) -> str:
    """A document without some of its tables, sub-tables included."""
    kept, keep = [], True
    for line in text.splitlines():
        if header := re.match(r"\[+([\w.]+)\]", line):
            keep = not any(header[1] == name or header[1].startswith(f"{name}.") for name in names)
        if keep:
            kept.append(line)
    assert len(kept) < len(text.splitlines())
    return "\n".join(kept) + "\n"


def numbers(value: Any) -> Iterator[float]:
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from numbers(inner)
    elif isinstance(value, float):
        yield value


def why(told: dict[str, Any]) -> dict[str, str]:
    """What could not be computed, and the sentence that says why."""
    flat = {**{f"warm {level}": told["warm"][level] for level in told["warm"]}, **told}
    return {
        name: table["not_computed"]
        for name, table in flat.items()
        if isinstance(table, dict) and "not_computed" in table
    }


@pytest.fixture
def amp(tmp_path: Path) -> Path:
    return tmp_path / "amp.toml"


@pytest.mark.parametrize("file", [*DEMOS, STARTER], ids=lambda file: file.stem)
def test_every_shipped_document_is_computed_or_says_why(file: Path, capsys: Capture) -> None:
    assert main(["state", str(file)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    for line in out.splitlines():
        assert cell_len(line) <= 80
        assert line.isprintable() and line == line.rstrip()
    assert not re.search(r"\b(nan|inf|None|infinite)\b", out)
    told = state_json(file)
    assert all(math.isfinite(number) for number in numbers(told))
    assert json.loads(json.dumps(told, allow_nan=False)) == told


@pytest.mark.parametrize("name", ["heron", "lantern", "harbour"])
def test_clean_demos_are_computed_in_every_state(name: str) -> None:
    told = state_json(ROOT / "projects" / f"{name}.toml")
    assert why(told) == {}
    assert told["mains"] == {"volts": 230.0, "hertz": 50.0, "tolerance": 0.1}
    volts = [told["warm"][level]["mains_volts"] for level in ("low", "nominal", "high")]
    assert volts == pytest.approx([207.0, 230.0, 253.0])
    assert "mains 230 V 50 Hz, 10 % either way" in state_text(ROOT / "projects" / f"{name}.toml")


def chart(text: str, title: str) -> dict[str, str]:
    """The rows of one table of the voltage chart, by their first column."""
    (block,) = [part for part in text.split("\n\n") if part.startswith(title)]
    return {row[:20].strip(): row[20:] for row in block.splitlines()[1:]}


def test_the_text_shows_what_the_json_holds() -> None:
    file = ROOT / "projects" / "heron.toml"
    told, text = state_json(file), state_text(file)
    rows = chart(text, "net ")
    for net, entry in told["warm"]["nominal"]["nets"].items():
        shown = float(rows[net][10:20].split()[0])
        assert shown == pytest.approx(entry["volts"], rel=6e-3, abs=1e-3)
    for ref, entry in told["discharge"]["capacitors"].items():
        (row,) = [row for row in text.splitlines() if row.startswith(f"{ref} ") and "J " in row]
        assert row.endswith((entry["slowest_state"], "never above 50 V"))


def test_the_chart_goes_by_tube_pin() -> None:
    file = ROOT / "projects" / "lantern.toml"
    told, text = state_json(file), state_text(file)
    rows = chart(text, "V2, 6V6GT ")
    assert set(rows) == {"2 heater", "3 plate", "4 screen", "5 grid", "7 heater", "8 cathode"}
    plate = told["warm"]["nominal"]["nets"]["plate 2"]["volts"]
    assert float(rows["3 plate"].split()[2]) == pytest.approx(plate, rel=6e-3)
    low, high = told["builds"]["nets"]["plate 2"]
    assert rows["3 plate"].endswith(f"{low:.3g} to {high:.3g} V")
    assert low < told["warm"]["nominal"]["nets"]["plate 2"]["volts"] < high


def test_dissipation_stands_beside_its_rating() -> None:
    """12 W and 2 W: 6V6GT, design-center (GE data sheet)."""
    file = ROOT / "projects" / "lantern.toml"
    told, text = state_json(file), state_text(file)
    assert told["ratings"]["V2"] == {"plate_watts": 12.0, "screen_watts": 2.0}
    (row,) = [line for line in text.splitlines() if line.startswith("V2 ") and " 12 W" in line]
    idle = told["warm"]["high"]["tubes"]["V2"]
    driven = told["full_drive"]
    assert [float(cell) for cell in row.split()[3::2]] == pytest.approx(
        [
            idle["plate_watts"],
            driven["plate_watts"]["V2"]["value"],
            12.0,
            idle["screen_watts"],
            driven["screen_watts"]["V2"]["value"],
            2.0,
        ],
        rel=6e-3,
    )


def test_states_beside_the_warm_one_are_told() -> None:
    told = state_json(ROOT / "projects" / "harbour.toml")
    assert len(told["pulled"]) == 6
    assert set(told["bias"]) >= {"D1 open, mains high", "the wiper of RV1L open, mains high"}
    failed = told["bias"]["D1 open, mains high"]["plate_watts"]["V2L"]
    assert failed > 1.5 * told["ratings"]["V2L"]["plate_watts"]
    shares = [state["plate_watts"]["V2L"] for state in told["warming_up"].values()]
    assert shares == sorted(shares) and len(shares) == 5
    assert told["inrush"]["fuses"]["F1"] > 2.0
    assert told["full_drive"]["output_watts"]["J3L"] == pytest.approx(30.0, rel=0.15)
    driven = told["full_drive"]["windings"]["T1.ht"]
    assert driven > 1.3 * told["warm"]["high"]["windings"]["T1.ht"]["rms_amperes"]


def test_a_design_without_wiring_is_computed_all_the_same(amp: Path) -> None:
    bare = chapters(HERON, "leads", "wires", "channel.leads", "channel.wires")
    amp.write_text(bare, encoding="utf-8")
    told = state_json(amp)
    assert why(told) == {}
    whole = state_json(ROOT / "projects" / "heron.toml")
    # but for the hum that wires make
    hum, of_whole = told.pop("hum"), whole.pop("hum")
    assert told == whole
    assert hum["lacks"]
    assert not of_whole["lacks"]
    assert hum["outputs"]["J3L"]["volts"] < of_whole["outputs"]["J3L"]["volts"]


def test_a_design_without_chassis_is_computed_all_the_same(amp: Path) -> None:
    amp.write_text(cut(chapters(HERON, "chassis", "layout", "holes")), encoding="utf-8")
    assert why(state_json(amp)) == {}


def test_without_an_inlet_nothing_is_taken_for_granted(amp: Path, capsys: Capture) -> None:
    amp.write_text(
        cut(
            START,
            'J1 = { kind = "inlet", current = "10 A" }\n',
            'J1 = ["line", "neutral", "earth"]\n',
        ),
        encoding="utf-8",
    )
    assert main(["state", str(amp)]) == 0
    said = capsys.readouterr().out
    sentence = "needs what feeds it: a mains inlet or a voltage source, connected"
    assert {why(state_json(amp))[state] for state in ("warm low", "warm high", "cold_start")} == {
        sentence
    }
    assert said.count(f": {sentence}") >= 2
    assert " V " not in said.partition("\n\n")[2]


GAPS = [
    (START.replace('type = "6SN7GTB"', 'type = "9X9"'), "warm nominal", "tube type 9X9"),
    (cut(START, ', resistance = "270+278"'), "warm nominal", "the ht winding of T1"),
    (cut(START, ', resistance = "15"'), "cold_start", "primary resistance of T1"),
    (cut(START, ', resistance = "0.2"'), "faults", "the heater winding of T1"),
    (
        cut(START, 'T1 = { primary = ["line on", "neutral on"], ht = ["ht a", "0V", "ht b"], '
                   'heater = ["heater a", "heater b"] }\n'),
        "warm nominal",
        "the nets of the primary of T1",
    ),
    (HEAD + '[parts]\nR1 = { kind = "resistor", value = "1k" }\n', "warm low", "the schematic"),
    (
        HEAD + '[parts]\nR1 = { kind = "resistor", value = "1k" }\n'
        '[schematic]\nR1 = ["0V", "0V"]\n',
        "warm low",
        "a second net",
    ),
    (START.replace('resistance = "15"', 'resistance = "3k"').replace(
        ', no_load = "243-0-243 V"', ""), "warm high", "contradict"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "state", "missing"), GAPS, ids=[gap[2] for gap in GAPS])
def test_what_is_missing_is_said_in_a_sentence_and_never_guessed(
    text: str, state: str, missing: str, amp: Path, capsys: Capture
) -> None:
    amp.write_text(text, encoding="utf-8")
    told = state_json(amp)
    sentence = why(told)[state]
    assert sentence.startswith("needs ") and missing in sentence
    assert main(["state", str(amp)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert missing in " ".join(out.split())
    assert all(len(line) <= 80 for line in out.splitlines())


def test_a_winding_on_a_bridge_does_not_float(amp: Path) -> None:
    supply = """
[parts]
J1 = { kind = "inlet" }
D1 = { kind = "bridge" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "47u" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "20" }, windings.ht = { voltage = "200 V", resistance = "30", no_load = "215 V" }, windings.heater = { voltage = "6.3 V", resistance = "0.1", no_load = "6.6 V" } }
[schematic]
J1 = ["line", "neutral", "chassis"]
T1 = { primary = ["line", "neutral"], ht = ["a", "b"], heater = ["h a", "h b"] }
D1 = ["a", "b", "B1", "0V"]
C1 = ["B1", "0V"]
"""
    amp.write_text(HEAD + supply, encoding="utf-8")
    assert [sorted(group) for group in state_json(amp)["warm"]["nominal"]["floating"]] == [
        ["h a", "h b"]
    ]


def test_one_reason_for_three_states_is_said_once(amp: Path) -> None:
    amp.write_text(START.replace('type = "6SN7GTB"', 'type = "9X9"'), encoding="utf-8")
    text = " ".join(state_text(amp).split())
    assert text.count("not computed, mains low, nominal, high: needs") == 1


def test_an_unknown_tube_leaves_the_cold_states_computed(amp: Path) -> None:
    amp.write_text(START.replace('type = "6SN7GTB"', 'type = "9X9"'), encoding="utf-8")
    gaps = why(state_json(amp))
    assert {"warm low", "warm nominal", "warm high", "builds", "full_drive"} <= set(gaps)
    assert {"cold_start", "discharge", "faults", "ratings"} & set(gaps) == set()
    assert set(gaps.values()) == {"needs data for tube type 9X9, which is not in the library"}


def test_long_names_and_strange_signs_keep_the_columns(amp: Path) -> None:
    text = START.replace('"B1"', '"the very first node after the rectifiers"')
    text = text.replace('"0V"', '"a star \\u001b[2J of all the grounds there are"')
    amp.write_text(text.replace("My first stage", "x" * 80), encoding="utf-8")
    said = state_text(amp)
    assert "the very first node after the rectifiers\n" in said
    assert "\x1b" not in said
    assert all(len(line) <= 80 for line in said.splitlines())


def test_a_net_that_carries_nothing_has_no_voltage(amp: Path) -> None:
    amp.write_text(cut(START, 'R4 = ["B2", "plate"]\n', 'C3 = ["plate", "out"]\n',
                       'V1 = { 1 = "grid", 2 = "plate", 3 = "cathode", 4 = "grid", 5 = "plate", '
                       '6 = "cathode", 7 = "heater a", 8 = "heater b" }\n').replace('R5 = ["cathode", "0V"]',
                       'R5 = ["cathode", "0V"]\nV1 = { 7 = "heater a", 2 = "plate" }'),
                   encoding="utf-8")  # fmt: skip
    told = state_json(amp)
    assert told["warm"]["nominal"]["nets"]["plate"] == {"volts": None, "ripple_volts": None}
    assert chart(state_text(amp), "net ")["plate"].split() == ["-"] * 4
