"""From verdicts to findings: signal words, rank, weak evidence, acceptances, order."""

from __future__ import annotations

import datetime
import math

import pytest

from coldcheck.lint.engine.settle import accept, findings, order
from coldcheck.lint.model import (
    Basis,
    Card,
    Datum,
    DocumentPath,
    Fail,
    Figure,
    Finding,
    Harm,
    Kind,
    Limit,
    Open,
    Pass,
    Place,
    Signal,
    Source,
    Subject,
    Verdict,
)
from coldcheck.lint.signal import exceedance, gravest, rank, signal_word
from coldcheck.schemas.site import Accept

R1 = Subject("part", "R1", ("parts", "R1"))
SHEET = Source("s", "data sheet", Basis.DATA_SHEET)
RECALLED = Source("s", "a book", Basis.MEMORY)
ASSUMED = Datum("no-load volts of T1", Basis.ASSUMED)
MEASURED = Datum("resistance of T1", Basis.MEASURED)
TODAY = datetime.date(2026, 6, 15)


def card(harm: Harm, rule: str = "a/b") -> Card:
    return Card(rule, "title", harm, "why", (SHEET,), ("Design",))


def locate(path: DocumentPath) -> Place | None:
    return Place("x", len(path), 1, len(path), 2) if path else None


def settled(verdict: Verdict, harm: Harm = Harm.WEARS) -> Finding:
    (finding,) = findings([("a/b", verdict)], {"a/b": card(harm)}, locate)
    return finding


def fail(value: float, limit: float, most: bool = True, source: Source = SHEET) -> Fail:
    return Fail(R1, "s", "r", Figure(value, "W"), Limit(Figure(limit, "W"), source, most))


# -- signal words -----------------------------------------------------------------------------------

WORDS = [
    (Harm.KILLS, 0.5, Signal.DANGER),
    (Harm.KILLS, 1.0, Signal.DANGER),
    (Harm.KILLS, 100.0, Signal.DANGER),
    (Harm.FAULT_KILLS, 0.5, Signal.WARNING),
    (Harm.FAULT_KILLS, 1.0, Signal.WARNING),
    (Harm.FAULT_KILLS, 100.0, Signal.WARNING),
    (Harm.OVERHEATS, 0.5, Signal.NOTICE),
    (Harm.OVERHEATS, 0.99, Signal.NOTICE),
    (Harm.OVERHEATS, 1.0, Signal.CAUTION),
    (Harm.OVERHEATS, 6.24, Signal.CAUTION),
    (Harm.OVERHEATS, 6.25, Signal.WARNING),
    (Harm.WEARS, 0.99, Signal.NOTICE),
    (Harm.WEARS, 1.0, Signal.CAUTION),
    (Harm.WEARS, 100.0, Signal.CAUTION),
    (Harm.UNDERPERFORMS, 0.99, Signal.NOTICE),
    (Harm.UNDERPERFORMS, 100.0, Signal.NOTICE),
    (Harm.UNTIDY, 0.99, Signal.NOTE),
    (Harm.UNTIDY, 100.0, Signal.NOTE),
]


@pytest.mark.parametrize(("harm", "exceeds", "word"), WORDS)
def test_the_word_follows_from_harm_and_distance(harm: Harm, exceeds: float, word: Signal) -> None:
    assert signal_word(harm, exceeds) is word


@pytest.mark.parametrize("harm", list(Harm))
def test_without_a_number_the_harm_is_taken_as_fully_there(harm: Harm) -> None:
    assert signal_word(harm, None) is signal_word(harm, 1.0) is gravest(harm)
    assert signal_word(harm, math.inf) >= gravest(harm)


@pytest.mark.parametrize("harm", list(Harm))
def test_the_word_never_falls_as_the_limit_is_passed_further(harm: Harm) -> None:
    words = [signal_word(harm, step / 20) for step in range(200)]
    assert words == sorted(words)


@pytest.mark.parametrize(
    ("given", "times"),
    [
        (fail(3.0, 2.0), 1.5),
        (fail(2.0, 3.0, most=False), 1.5),
        (fail(-3.0, 2.0), 1.5),
        (fail(1.0, 0.0), math.inf),
        (fail(0.0, 0.0), None),
        (Fail(R1, "s", "r"), None),
        (Fail(R1, "s", "r", Figure(1.0, "W")), None),
        (fail(3.0, 2.0)._replace(exceeds=7.0), 7.0),
    ],
)
def test_how_far_past_its_limit_a_fail_is(given: Fail, times: float | None) -> None:
    assert exceedance(given) == (None if times is None else pytest.approx(times))


def test_what_a_verdict_rests_on_twice_is_said_once() -> None:
    twice = (ASSUMED, MEASURED, ASSUMED)
    assert settled(fail(2.0, 1.0)._replace(rests_on=twice)).rests_on == (ASSUMED, MEASURED)
    assert settled(Pass(R1, rests_on=twice)).rests_on == (ASSUMED, MEASURED)
    unsure = settled(Pass(R1, rests_on=twice), Harm.FAULT_KILLS)
    assert unsure.datum.count(ASSUMED.what) == 1


def test_a_verdict_may_name_a_graver_harm_than_its_card() -> None:
    verdict = fail(2.0, 1.0)._replace(harm=Harm.KILLS)
    assert settled(verdict, Harm.UNTIDY).signal is Signal.DANGER


# -- rank -------------------------------------------------------------------------------------------


def test_rank_rises_with_distance_and_stays_within_a_hundred() -> None:
    ranks = [rank(fail(1.0 + step / 10, 1.0)) for step in range(1000)]
    assert ranks == sorted(ranks)
    assert all(0.0 <= number <= 100.0 for number in ranks)
    assert (rank(fail(1.0, 1.0)), rank(fail(2.0, 1.0)), rank(fail(10.0, 1.0))) == (50, 75, 95)
    assert rank(fail(1.0, 0.0)) == 100.0
    assert rank(fail(0.0, 1.0)) == 0.0


def test_rank_falls_with_weak_evidence() -> None:
    strong = fail(2.0, 1.0)
    on_data = strong._replace(rests_on=(MEASURED, ASSUMED))
    assert rank(strong._replace(rests_on=(MEASURED,))) == rank(strong)
    assert rank(on_data) == rank(fail(2.0, 1.0, source=RECALLED)) == 0.8 * rank(strong)
    assert rank(Fail(R1, "s", "r")) == 90.0


# -- findings ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("harm", [Harm.KILLS, Harm.FAULT_KILLS])
def test_an_assumed_figure_never_clears_a_grave_rule(harm: Harm) -> None:
    finding = settled(Pass(R1, rests_on=(MEASURED, ASSUMED)), harm)
    assert finding.kind is Kind.OPEN
    assert finding.signal is gravest(harm)
    assert "no-load volts of T1" in finding.datum
    assert "resistance of T1" not in finding.datum


@pytest.mark.parametrize("harm", [Harm.OVERHEATS, Harm.WEARS, Harm.UNDERPERFORMS, Harm.UNTIDY])
def test_an_assumed_figure_may_clear_a_milder_rule(harm: Harm) -> None:
    finding = settled(Pass(R1, rests_on=(ASSUMED,)), harm)
    assert finding.kind is Kind.PASS
    assert finding.rests_on == (ASSUMED,)


@pytest.mark.parametrize("harm", list(Harm))
def test_good_figures_clear_any_rule(harm: Harm) -> None:
    assert settled(Pass(R1, rests_on=(MEASURED,)), harm).kind is Kind.PASS


def test_an_assumed_figure_may_raise_a_grave_finding() -> None:
    verdict = fail(2.0, 1.0)._replace(rests_on=(ASSUMED,))
    finding = settled(verdict, Harm.FAULT_KILLS)
    assert (finding.kind, finding.signal) == (Kind.FAIL, Signal.WARNING)
    assert finding.rests_on == (ASSUMED,)


def test_an_open_points_at_where_the_datum_would_be_written() -> None:
    finding = settled(Open(R1, "its power", ("parts", "R1", "power")))
    assert finding.place is not None and finding.place.line == 3
    assert (finding.datum, finding.kind) == ("its power", Kind.OPEN)
    nowhere = settled(Open(R1, "its power"))
    assert nowhere.place is not None and nowhere.place.line == 2


def test_a_finding_keeps_all_that_the_verdict_said() -> None:
    c1 = Subject("part", "C1", ("parts", "C1"))
    verdict = Fail(
        R1, "says", "remedy", Figure(2.0, "W"), Limit(Figure(1.0, "W"), SHEET), "mains high",
        (c1,), ("2 W / 1 W",), (MEASURED,),
    )  # fmt: skip
    finding = settled(verdict)
    for name in verdict._fields:
        if name not in ("exceeds", "harm"):
            assert getattr(finding, name) == getattr(verdict, name)


# -- acceptances ------------------------------------------------------------------------------------


def entry(rule: str = "a/b", about: str = "R1", until: datetime.date | None = None) -> Accept:
    return Accept(
        rule=rule,
        about=about,
        reason="runs warm on purpose",
        by="mk",
        date=datetime.date(2026, 1, 1),
        until=until,
    )


KNOWN = {"a/b": True, "a/c": False}


def accepted(*entries: Accept, verdict: Verdict | None = None) -> list[Finding]:
    found = [settled(verdict or fail(2.0, 1.0))]
    return accept(found, entries, TODAY, KNOWN.get, locate)


def test_an_acceptance_marks_its_finding_and_hides_nothing() -> None:
    (finding,) = accepted(entry())
    assert finding.accepted is not None
    assert (finding.accepted.reason, finding.accepted.by) == ("runs warm on purpose", "mk")
    assert (finding.accepted.date, finding.accepted.until) == ("2026-01-01", "")
    assert finding._replace(accepted=None) == settled(fail(2.0, 1.0))


def test_an_acceptance_holds_through_its_last_day() -> None:
    (finding,) = accepted(entry(until=TODAY))
    assert finding.accepted is not None and finding.accepted.until == "2026-06-15"


def test_an_expired_acceptance_accepts_nothing_and_is_a_finding() -> None:
    finding, stale = accepted(entry(until=TODAY - datetime.timedelta(days=1)))
    assert finding.accepted is None
    assert (stale.rule, stale.kind, stale.signal) == ("papers/acceptance", Kind.FAIL, Signal.NOTE)
    assert stale.says == "the acceptance of a/b on R1 expired on 2026-06-14"
    assert stale.about.path == ("accept", 0)


def test_a_renewed_acceptance_beside_an_expired_one_accepts() -> None:
    old = entry(until=TODAY - datetime.timedelta(days=1))
    finding, stale = accepted(old, entry())
    assert finding.accepted is not None
    assert "expired" in stale.says


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (entry(about="R2"), "the acceptance of a/b on R2 matches no finding"),
        (entry(rule="a/z"), "an acceptance names a/z, which is not a rule"),
    ],
)
def test_an_acceptance_that_covers_nothing_is_a_finding(given: Accept, says: str) -> None:
    finding, stale = accepted(given)
    assert finding.accepted is None
    assert (stale.says, stale.signal) == (says, Signal.NOTE)


def test_an_acceptance_of_a_rule_that_was_not_run_is_not_called_unused() -> None:
    assert len(accepted(entry(rule="a/c"))) == 1


@pytest.mark.parametrize("verdict", [Pass(R1), Open(R1, "its power")])
def test_only_a_fail_can_be_accepted(verdict: Verdict) -> None:
    finding, stale = accepted(entry(), verdict=verdict)
    assert finding.accepted is None
    assert "matches no finding" in stale.says


# -- order ------------------------------------------------------------------------------------------


def test_the_order_is_gravest_first_and_the_same_whatever_came_first() -> None:
    def of(name: str, harm: Harm, value: float, rule: str = "a/b") -> Finding:
        verdict = fail(value, 1.0)._replace(about=Subject("part", name, ()))
        (finding,) = findings([(rule, verdict)], {rule: card(harm, rule)}, locate)
        return finding

    right = [
        of("R9", Harm.KILLS, 1.5),
        of("R9", Harm.FAULT_KILLS, 9.0),
        of("R9", Harm.WEARS, 3.0),
        of("R2", Harm.WEARS, 2.0),
        of("R10", Harm.WEARS, 2.0),
        of("R1", Harm.WEARS, 2.0, "a/c"),
        of("R1", Harm.UNTIDY, 9.0),
    ]
    assert order(right[::-1]) == right
    assert order(right[3:] + right[:3]) == right
