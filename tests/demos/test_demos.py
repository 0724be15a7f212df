"""The two finished designs are clean for honest reasons; the draft shows every planted mistake."""

from __future__ import annotations

import datetime
import functools
from pathlib import Path

import pytest

from coldcheck.lint.engine.review import review_text
from coldcheck.lint.model import Review, Signal
from coldcheck.lint.reports import console
from recording import same_as_recorded

PROJECTS = Path(__file__).resolve().parents[2] / "projects"
RECORDED = Path(__file__).parent / "recorded"
DAY = datetime.date(2026, 6, 1)
CLEAN = ("lantern", "heron")

# What was planted in the draft: rule, subject, signal word of the catalogue, and what it is.
PLANTED = [
    ("earth/unbonded-metal", "chassis", "DANGER", "earth wire ends on the ground bus"),
    ("earth/hot-chassis", "C7", "DANGER", "paper capacitor from line to the chassis"),
    ("mains/fuse-place", "S1", "WARNING", "switch ahead of the fuse"),
    ("mains/fuse-overrated", "F1", "WARNING", "2 A fuse on a sixth of an ampere"),
    ("mains/fuse-clears", "F1", "WARNING", "2 A fuse cannot see a shorted winding"),
    ("stored-energy/slow-discharge", "C2", "WARNING", "no bleeder behind the choke"),
    ("stored-energy/slow-discharge", "C3", "WARNING", "no bleeder behind the dropper"),
    ("stored-energy/bleeder-rating", "R1", "WARNING", "half-watt bleeder"),
    ("metal/bare-edge", "H1", "WARNING", "mains leads through a hole without grommet"),
    ("metal/missing-hole", "L1", "WARNING", "choke leads, at 300 V, pass no hole"),
    ("metal/grommet-fit", "H3", "WARNING", "groove thinner than the sheet, HT in it"),
    ("ground/loop", "J2", "NOTICE", "input jack not insulated from the panel"),
    ("ground/loop", "TB4", "NOTICE", "return wire by way of a mounting foot"),
    ("ratings/capacitor-voltage", "C2", "CAUTION", "350 V capacitor, more at cold start"),
    ("ratings/capacitor-polarity", "C6", "CAUTION", "cathode capacitor the wrong way round"),
    ("ratings/resistor-power", "R10", "CAUTION", "quarter-watt cathode resistor"),
    ("ratings/choke-current", "L1", "CAUTION", "30 mA choke"),
    ("ratings/led-current", "D1", "CAUTION", "68 ohm to the pilot, no diode across it"),
    ("tubes/plate-dissipation", "V2", "CAUTION", "cathode resistor far too small"),
    ("tubes/grid-path", "V2", "CAUTION", "grid leak forgotten"),
    ("wiring/joined-nets", "B3", "CAUTION", "supply wire soldered to the input lug"),
    ("wiring/missing-connection", "plate 1", "CAUTION", "plates of V1 not joined"),
    ("wiring/lone-net", "cathod 1", "NOTE", "a net name misspelt"),
    ("wiring/idle-part", "R15", "NOTE", "a part in no net"),
    ("supply/declared-voltage", "B1", "NOTICE", "expects far more than it will get"),
]


@functools.cache
def reviewed(name: str) -> Review:
    file = f"{name}.toml"
    return review_text((PROJECTS / file).read_bytes(), f"projects/{file}", DAY)


@pytest.mark.parametrize("name", CLEAN)
def test_finished_designs_are_clean(name: str) -> None:
    review = reviewed(name)
    grave = [f"{f.signal.name} {f.rule} {f.about}: {f.says}" for f in review.findings]
    grave = [line for line in grave if line.startswith(("DANGER", "WARNING"))]
    assert grave == []
    blind = [f"{o.rule} {o.about}: {o.datum}" for o in review.opens if o.signal >= Signal.WARNING]
    assert blind == []
    assert review.crashes == ()


@pytest.mark.parametrize("name", CLEAN)
def test_clean_means_judged(name: str) -> None:
    """A clean design was looked at: every grave rule that applies passed on something."""
    review = reviewed(name)
    judged = {finding.rule for finding in review.passes}
    for rule in ("earth/unbonded-metal", "earth/hot-chassis", "stored-energy/slow-discharge"):
        assert rule in judged
    assert len(review.passes) > 50


@pytest.mark.parametrize(("rule", "about", "word", "what"), PLANTED, ids=lambda v: str(v)[:30])
def test_draft_shows_each_planted_mistake(rule: str, about: str, word: str, what: str) -> None:
    review = reviewed("lantern-first-draft")
    found = [f for f in review.findings if f.rule == rule]
    subjects = {s.name for f in found for s in (f.about, *f.others)}
    words = {f.signal.name for f in found if about in {s.name for s in (f.about, *f.others)}}
    assert word in words, f"{what}: {rule} said {words or 'nothing'} on {about}, saw {subjects}"


def test_draft_reports_nothing_that_was_not_planted() -> None:
    """Consequences of a planted mistake are welcome; a finding on a sound part is a false alarm."""
    review = reviewed("lantern-first-draft")
    # C1, T1, V3 and T2 are sound too, but the fuse and the tube let them down
    sound = {"V1", "R2", "R6", "R7", "R8", "R12", "R13", "C5"}
    false_alarms = [
        f"{f.rule} {f.about}: {f.says}"
        for f in review.findings
        if f.about.name in sound and f.signal >= Signal.CAUTION
    ]
    assert false_alarms == []
    assert review.crashes == ()


@pytest.mark.parametrize("name", [*CLEAN, "lantern-first-draft"])
def test_the_whole_review_is_as_recorded(name: str) -> None:
    """A change of a rule shows here what it does to every design."""
    same_as_recorded(f"{name}.txt", console.report(reviewed(name), passed=True), RECORDED)
