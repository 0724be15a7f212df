"""A review from file to findings: selection, determinism, what a partial review says."""

from __future__ import annotations

import datetime
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from coldcheck.lint.engine import packs
from coldcheck.lint.engine.catalogue import ACCEPTANCE, cards, catalogue, selected
from coldcheck.lint.engine.review import review_path, review_text
from coldcheck.lint.reports import console, machine, sarif
from coldcheck.lint.state.text import text as state_text
from coldcheck.lint.state.values import study_of, values
from documents import DEMOS, HEAD, ROOT, STARTER

TODAY = datetime.date(2026, 6, 15)


def test_all_rules_are_selected_when_none_is_named() -> None:
    assert selected(()) == catalogue().rules
    assert selected(()) is not catalogue().rules


def test_rules_are_selected_by_name_and_area() -> None:
    rules = list(catalogue().rules)
    area = rules[0].partition("/")[0]
    of_area = [rule for rule in rules if rule.startswith(f"{area}/")]
    assert list(selected([area])) == of_area
    assert list(selected([rules[-1], area])) == [*of_area, rules[-1]]
    assert list(selected([rules[-1], rules[-1]])) == [rules[-1]]


@pytest.mark.parametrize("name", ["nothing", "", "/", "earth/", "ear"])
def test_a_name_that_is_no_rule_is_refused(name: str) -> None:
    with pytest.raises(KeyError):
        selected([name])


def test_the_rule_of_the_engine_itself_may_be_named() -> None:
    assert selected([ACCEPTANCE.rule]) == {}


def test_every_rule_has_a_card_under_its_own_name() -> None:
    assert [card.rule for card in cards()] == sorted([*catalogue().rules, ACCEPTANCE.rule])
    assert all(rule.card.rule == name for name, rule in catalogue().rules.items())


def test_a_partial_review_runs_only_what_was_asked_for() -> None:
    review = review_path(DEMOS[0], TODAY, ["wiring"])
    heard = {f.rule for f in (*review.findings, *review.opens, *review.passes)}
    assert {rule.partition("/")[0] for rule in heard | set(review.not_applicable)} == {"wiring"}


def test_every_rule_is_heard_or_silent_in_a_review() -> None:
    review = review_path(DEMOS[0], TODAY)
    heard = {f.rule for f in (*review.findings, *review.opens, *review.passes)}
    assert heard | set(review.not_applicable) == set(catalogue().rules)
    assert not heard & set(review.not_applicable)
    assert review.crashes == ()


def test_a_project_s_own_tube_type_is_announced() -> None:
    body = (
        HEAD + '[parts]\nV1 = { kind = "tube", type = "mine" }\n'
        '[tubes]\nmine = { like = "6J5", source = "bench notes, 2026" }\n'
    )
    notes = review_text(body.encode(), "x", TODAY).notes
    said = "tube type mine is the project's own: 6J5 with changes (bench notes, 2026)"
    assert said in notes


def test_a_type_known_from_memory_only_is_named_in_every_report(tmp_path: Path) -> None:
    """The 5881's pins and ratings are all recalled, the 12AX7's are not."""
    body = (
        HEAD + '[parts]\nV1 = { kind = "tube", type = "5881" }\n'
        'V2 = { kind = "tube", type = "12AX7" }\n'
    )
    said = "pins and ratings of tube type 5881 are from memory, not read in a data sheet"
    review = review_text(body.encode(), "x", TODAY)
    assert review.notes == (said,)
    file = tmp_path / "amp.toml"
    file.write_text(body, encoding="utf-8")
    told = values(study_of(file))
    for report in (
        console.report(review, 80),
        machine.report([review], "0"),
        sarif.report([review], "0", (), str(tmp_path)),
        state_text(told),
        json.dumps(told),
    ):
        assert said in " ".join(report.replace("\n", " ").split())


def test_places_point_into_the_file() -> None:
    (draft,) = [file for file in DEMOS if "draft" in file.stem]
    lines = draft.read_text("utf-8").splitlines()
    review = review_path(draft, TODAY)
    assert review.findings
    for finding in review.findings:
        assert finding.place is not None
        assert finding.place.file == str(draft)
        assert 1 <= finding.place.column <= len(lines[finding.place.line - 1]) + 1


SCRIPT = """
import datetime, sys
from coldcheck.lint.engine.review import review_path
from coldcheck.lint.reports import machine, sarif
reviews = [review_path(name, datetime.date(2026, 6, 15)) for name in sys.argv[1:]]
sys.stdout.write(machine.report(reviews, "0"))
sys.stdout.write(sarif.report(reviews, "0", (), "/", True))
"""


def test_reports_are_the_same_bytes_whatever_the_hash_seed() -> None:
    files = [str(file) for file in (*DEMOS, STARTER)]
    said = {
        subprocess.run(
            [sys.executable, "-c", SCRIPT, *files],
            env={**os.environ, "PYTHONPATH": str(ROOT / ".src"), "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
            timeout=120,
        ).stdout
        for seed in ("0", "1")
    }
    assert len(said) == 1
    assert len(said.pop()) > 10_000


def test_the_same_document_reviewed_twice_gives_the_same_report() -> None:
    first, second = (machine.report([review_path(DEMOS[-1], TODAY)], "0") for _ in range(2))
    assert first == second


def test_a_rule_that_does_not_load_leaves_the_review_not_whole(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    there = packs.built_in()
    broken = packs.RuleModule("hum/no-such-rule", "coldcheck.rules.no_such_area.no_such_rule")
    monkeypatch.setattr(packs, "built_in", lambda: (*there, broken))
    catalogue.cache_clear()
    try:
        assert "hum/no-such-rule" not in catalogue().rules
        assert len(catalogue().rules) == len(there)
        made = review_path(ROOT / "projects" / "lantern.toml", TODAY)
        assert [c.error for c in made.crashes if "hum/no-such-rule was left out" in c.error]
    finally:
        monkeypatch.undo()
        catalogue.cache_clear()
