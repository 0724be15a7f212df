"""Two documents one behind the other, as ``coldcheck chain`` tells of them."""

from __future__ import annotations

import json

import pytest

from coldcheck.lint.cli import main
from coldcheck.lint.facts.level_plan import LevelPlan
from coldcheck.lint.facts.signal import Signal
from coldcheck.lint.state.values import study_of
from documents import ROOT

HERON, HARBOUR, LANTERN = (
    str(ROOT / f"projects/{name}.toml") for name in ("heron", "harbour", "lantern")
)


def test_what_one_gives_is_what_the_other_gets(capsys: pytest.CaptureFixture[str]) -> None:
    """The first's clipping level through the divider of both impedances, over the second's needs."""
    assert main(["chain", HERON, HARBOUR, "--as", "json", "--no-personal"]) == 0
    told = json.loads(capsys.readouterr().out)
    pre, amp = study_of(HERON), study_of(HARBOUR)
    signal, plan = pre.get("Signal"), pre.get("LevelPlan")
    needs = amp.get("LevelPlan")
    assert isinstance(signal, Signal)
    assert isinstance(plan, LevelPlan)
    assert isinstance(needs, LevelPlan)
    into = amp.get("Signal").input_ohms()
    left = into / (into + told["output_ohms"])
    gain = abs(signal.gain(signal.outputs[0], full=True)) * left
    assert told["gain"] == pytest.approx(gain, rel=1e-6)
    assert told["most_volts"] == pytest.approx(plan.sensitivity * gain, rel=1e-6)
    assert told["needs_volts"] == pytest.approx(needs.sensitivity, rel=1e-6)
    passed = told["needs_volts"] / (told["source_volts"] * gain)
    # the track divides by its share, but for what the stage after it takes
    assert told["control_place"] == pytest.approx(passed, rel=0.1)


def test_it_is_told_in_sentences_of_eighty_columns(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["chain", HERON, HARBOUR, "--no-personal"]) == 0
    told = capsys.readouterr().out
    assert "times what Harbour can use" in " ".join(told.split())
    assert "does not need Heron" in " ".join(told.split())
    assert max(map(len, told.splitlines())) <= 80


def test_a_loudspeaker_output_feeds_no_amplifier(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["chain", LANTERN, HARBOUR, "--no-personal"]) == 2
    assert "J3 is for a loudspeaker" in capsys.readouterr().err


def test_a_file_that_is_none_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["chain", HERON, str(ROOT / "README.md"), "--no-personal"]) == 2
    assert "README.md:" in capsys.readouterr().err
