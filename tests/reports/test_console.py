"""The console report: its whole text is recorded, and what must hold for any review is checked."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

import sample_review
from coldcheck.lint.model import Finding, Review, Signal
from coldcheck.lint.reports import console
from recording import same_as_recorded

ANSI = re.compile(r"\x1b\[[0-9;]*m")
REVIEWS = [sample_review.review(), sample_review.spotless(), sample_review.hostile()]


def test_every_outcome_is_reported_as_recorded() -> None:
    same_as_recorded("everything.txt", console.report(sample_review.review()))


def test_what_passed_is_listed_when_asked() -> None:
    same_as_recorded("everything-passed.txt", console.report(sample_review.review(), passed=True))


def test_a_review_without_findings_is_reported_as_recorded() -> None:
    same_as_recorded("spotless.txt", console.report(sample_review.spotless()))


def test_texts_of_a_document_are_shown_literally() -> None:
    same_as_recorded("hostile.txt", console.report(sample_review.hostile(), passed=True))


@pytest.mark.parametrize("review", REVIEWS, ids=lambda review: review.project[:5].strip())
@pytest.mark.parametrize("width", [40, 80, 100])
def test_no_line_is_wider_than_asked(review: Review, width: int) -> None:
    for line in console.report(review, width, passed=True).splitlines():
        assert cell_len(line) <= width
        assert line == line.rstrip()


def test_wide_characters_count_as_two_columns() -> None:
    wide = sample_review.JACK._replace(says="電" * 120)
    review = sample_review.spotless()._replace(findings=(wide,))
    assert max(map(cell_len, console.report(review).splitlines())) <= 80


@pytest.mark.parametrize("review", REVIEWS, ids=lambda review: review.project[:5].strip())
def test_without_colour_everything_prints(review: Review) -> None:
    text = console.report(review, passed=True)
    assert all(mark.isprintable() or mark == "\n" for mark in text)


@pytest.mark.parametrize("review", REVIEWS, ids=lambda review: review.project[:5].strip())
def test_colour_adds_escapes_and_nothing_else(review: Review) -> None:
    plain, coloured = console.report(review), console.report(review, colour=True)
    assert coloured != plain
    assert ANSI.sub("", coloured) == plain


def test_gravest_comes_first_whatever_the_order_given() -> None:
    review = sample_review.review()
    backward = review._replace(findings=review.findings[::-1])
    said = re.findall(r"^  ([A-Z]+): ", console.report(backward), re.MULTILINE)
    findings = said[: said.index("NOTE") + 1]
    assert findings == ["DANGER", "WARNING", "CAUTION", "NOTE"]


def test_many_rules_waiting_for_one_datum_make_one_line() -> None:
    opens = tuple(
        sample_review.review().opens[0]._replace(rule=f"area/rule-{number:02}")
        for number in range(12)
    )
    text = console.report(sample_review.spotless()._replace(opens=opens))
    assert text.count("[wires]") == 1
    assert "  DANGER: 12 rules wait for [wires].\n" in text
    assert all(item.rule in text for item in opens)


def test_many_data_wanted_by_one_rule_make_one_entry() -> None:
    first = sample_review.review().opens[0]
    opens = tuple(first._replace(datum=f"the voltage of R{number}") for number in range(30))
    text = console.report(sample_review.spotless()._replace(opens=opens))
    assert "  DANGER: rule earth/fixed-path waits for 30 data.\n" in text
    joined = " ".join(text.split())
    assert all(item.datum in joined for item in opens)


def opened(signal: Signal) -> Finding:
    return sample_review.review().opens[0]._replace(signal=signal)


@pytest.mark.parametrize("signal", [Signal.DANGER, Signal.WARNING])
def test_a_grave_rule_that_could_not_judge_spoils_the_verdict(signal: Signal) -> None:
    review = sample_review.spotless()._replace(opens=(opened(signal),))
    text = console.report(review)
    assert f"  {signal.name}: rule earth/fixed-path waits for [wires].\n" in text
    assert "1 rule could not judge, 1 of them DANGER or WARNING. The review is" in text


@pytest.mark.parametrize("review", REVIEWS, ids=lambda review: review.project[:5].strip())
def test_a_report_never_calls_anything_safe(review: Review) -> None:
    text = console.report(review, passed=True)
    assert re.search(r"\bsafe", text, re.IGNORECASE) is None
    assert "voltages that kill" in text


def test_a_review_that_judged_nothing_says_so() -> None:
    nothing = sample_review.spotless()._replace(passes=())
    assert "No finding. Nothing was judged." in console.report(nothing)


TEXTS = st.text(max_size=200)


@settings(max_examples=60, deadline=None)
@given(says=TEXTS, datum=TEXTS, name=TEXTS, width=st.integers(1, 120))
def test_no_text_breaks_the_page(says: str, datum: str, name: str, width: int) -> None:
    about = sample_review.JACK.about._replace(name=name)
    finding = sample_review.JACK._replace(says=says, remedy=datum, about=about)
    opening = sample_review.review().opens[3]._replace(datum=datum, says=says)
    review = sample_review.spotless()._replace(project=name, findings=(finding,), opens=(opening,))
    for line in console.report(review, width, passed=True).splitlines():
        assert cell_len(line) <= max(width, 40)
        assert line.isprintable()
