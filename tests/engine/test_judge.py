"""One rule never touches another: crashes, missing data, facts made once and on demand."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from types import ModuleType
from typing import Any

import pytest

from coldcheck.lint import rulekit
from coldcheck.lint.engine import study as study_module
from coldcheck.lint.engine.judge import Heard, judge
from coldcheck.lint.engine.study import Study
from coldcheck.lint.model import Card, Fail, Harm, Missing, NothingToJudge, Open, Pass, Subject
from coldcheck.lint.physics.circuit import NotSolved
from coldcheck.lint.rulekit import Rule
from documents import design

DESIGN = design('[parts]\nR1 = { kind = "resistor", value = "1k" }\n')
R1 = DESIGN.parts["R1"].subject
made: list[str] = []


def rule_of(judges: Any, *needs: str) -> Rule:
    return Rule(Card("", "t", Harm.WEARS, "w", (), ()), judges, needs)


@pytest.fixture
def facts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Facts that note when they are made: Base; Top, made of Base; Gap and Stuck, which fail."""
    made.clear()

    def module(name: str, make: Any) -> tuple[str, str]:
        held = ModuleType(f"fact_of_test_{name}")
        held.make = make  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, held.__name__, held)
        return held.__name__, name

    def base(design: Design) -> str:  # type: ignore[name-defined]  # noqa: F821
        made.append("Base")
        return "base"

    def top(base: Base, design: Design) -> str:  # type: ignore[name-defined]  # noqa: F821
        made.append("Top")
        return f"top on {base}"

    def gap(base: Base) -> str:  # type: ignore[name-defined]  # noqa: F821
        made.append("Gap")
        raise Missing("the resistance of T1", ("parts", "T1", "primary", "resistance"))

    def on_gap(gap: Gap) -> str:  # type: ignore[name-defined]  # noqa: F821
        made.append("OnGap")
        return "never"

    def nothing() -> str:
        raise NothingToJudge("no mains")

    def stuck() -> str:
        made.append("Stuck")
        raise NotSolved("the supply did not settle in 400 cycles")

    def broken() -> str:
        made.append("Broken")
        raise ZeroDivisionError("in a fact")

    needs = dict(rulekit.NEEDS)
    for name, make in {
        "Base": base,
        "Top": top,
        "Gap": gap,
        "OnGap": on_gap,
        "Nothing": nothing,
        "Stuck": stuck,
        "Broken": broken,
    }.items():
        needs[name] = module(name, make)
    monkeypatch.setattr(study_module, "NEEDS", needs)


def heard(**rules: Rule) -> Heard:
    return judge(rules, Study(DESIGN), DESIGN.subject)


def passes(*_facts: Any) -> Iterator[Pass]:
    yield Pass(R1)


def quiet(*_facts: Any) -> Iterator[Pass]:
    yield from ()


def test_a_crash_is_named_and_the_others_go_on(facts: None) -> None:
    def crashes(*_facts: Any) -> Iterator[Pass]:
        yield Pass(R1)
        raise KeyError("V9")

    said = heard(a=rule_of(passes), b=rule_of(crashes), c=rule_of(passes))
    assert said.verdicts == (("a", Pass(R1)), ("b", Pass(R1)), ("c", Pass(R1)))
    (crash,) = said.crashes
    assert (crash.rule, crash.error) == ("b", "KeyError: 'V9'")
    assert crash.where.startswith("test_judge.py line ")


def test_a_fact_without_a_subject_leaves_the_rule_silent(facts: None) -> None:
    said = heard(a=rule_of(passes, "Nothing"), b=rule_of(passes))
    assert said.verdicts == (("b", Pass(R1)),)
    assert said.silent == ("a",) and said.crashes == ()


def test_a_rule_that_yields_something_else_has_crashed(facts: None) -> None:
    def wrong(*_facts: Any) -> Iterator[Any]:
        yield "all well"

    (crash,) = heard(a=rule_of(wrong)).crashes
    assert crash.error == "TypeError: a rule yielded str, not Fail, Open or Pass"


@pytest.mark.parametrize("stop", [RuntimeError("x"), Missing("the power of R2"), NotSolved("x")])
def test_what_a_rule_found_before_it_got_stuck_stays_found(facts: None, stop: Exception) -> None:
    def half(*_facts: Any) -> Iterator[Fail]:
        yield Fail(R1, "it is live", "bond it")
        raise stop

    said = heard(a=rule_of(half))
    assert said.verdicts[0] == ("a", Fail(R1, "it is live", "bond it"))
    assert len(said.verdicts) + len(said.crashes) == 2
    assert said.silent == ()


def test_a_datum_missing_twice_is_said_once(facts: None) -> None:
    def twice(*_facts: Any) -> Iterator[Open]:
        yield Open(R1, "its power")
        yield Open(R1, "its power")
        yield Open(R1, "its voltage")

    said = heard(a=rule_of(twice)).verdicts
    assert [v.datum for _rule, v in said if isinstance(v, Open)] == ["its power", "its voltage"]


def test_a_rule_that_crashes_at_once_is_not_called_silent(facts: None) -> None:
    said = heard(a=rule_of(passes, "Broken"))
    assert (said.verdicts, said.silent) == ((), ())


def test_a_missing_datum_leaves_the_rule_open_with_its_place(facts: None) -> None:
    (verdict,) = [v for _rule, v in heard(a=rule_of(passes, "OnGap")).verdicts]
    where = ("parts", "T1", "primary", "resistance")
    assert verdict == Open(DESIGN.subject, "the resistance of T1", where)


def test_a_missing_datum_of_a_part_is_open_on_that_part(facts: None) -> None:
    def asks(*_facts: Any) -> Iterator[Pass]:
        yield from ()
        raise Missing("its power rating", ("parts", "R1", "power"), R1)

    (verdict,) = [v for _rule, v in heard(a=rule_of(asks)).verdicts]
    assert verdict == Open(R1, "its power rating", ("parts", "R1", "power"))


def test_a_solver_that_gave_up_leaves_the_rule_open(facts: None) -> None:
    (verdict,) = [v for _rule, v in heard(a=rule_of(passes, "Stuck")).verdicts]
    assert isinstance(verdict, Open)
    assert "the supply did not settle in 400 cycles" in verdict.datum + verdict.says


def test_a_fact_that_breaks_crashes_the_rules_that_need_it_only(facts: None) -> None:
    said = heard(a=rule_of(passes, "Broken"), b=rule_of(passes), c=rule_of(passes, "Broken"))
    assert [crash.rule for crash in said.crashes] == ["a", "c"]
    assert {crash.error for crash in said.crashes} == {"ZeroDivisionError: in a fact"}
    assert said.verdicts == (("b", Pass(R1)),)
    assert made == ["Broken"]


def test_facts_are_made_once_and_only_when_asked_for(facts: None) -> None:
    heard(a=rule_of(quiet, "Top"), b=rule_of(quiet, "Base"), c=rule_of(quiet, "Top", "Base"))
    assert made == ["Base", "Top"]


def test_nothing_is_made_for_rules_that_need_the_design_only(facts: None) -> None:
    heard(a=rule_of(quiet, "Design"))
    assert made == []


def test_a_fact_that_cannot_be_made_is_tried_once(facts: None) -> None:
    said = heard(
        a=rule_of(passes, "Gap"), b=rule_of(passes, "OnGap"), c=rule_of(passes, "Gap", "Base")
    )
    assert made == ["Base", "Gap"]
    assert [v.datum for _rule, v in said.verdicts if isinstance(v, Open)] == [
        "the resistance of T1"
    ] * 3


def test_rules_run_in_order_of_name_and_silence_is_noted(facts: None) -> None:
    said = heard(c=rule_of(passes), a=rule_of(quiet), b=rule_of(passes))
    assert [rule for rule, _verdict in said.verdicts] == ["b", "c"]
    assert said.silent == ("a",)


def test_facts_reach_a_rule_in_the_order_it_names_them(facts: None) -> None:
    got: list[Any] = []

    def takes(*given: Any) -> Iterator[Pass]:
        got.extend(given)
        yield from ()

    heard(a=rule_of(takes, "Top", "Design", "Base"))
    assert got == ["top on base", DESIGN, "base"]


def test_a_subject_stands_in_when_nothing_is_named(facts: None) -> None:
    about = Subject("document", "T", ("project", "name"))
    (verdict,) = [
        v for _rule, v in judge({"a": rule_of(passes, "Gap")}, Study(DESIGN), about).verdicts
    ]
    assert verdict.about is about


def test_a_maker_may_go_without_a_fact_whose_datum_is_missing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def make(design: Any, wiring: Any) -> tuple[Any, Any]:
        return design, wiring

    make.__annotations__ = {"design": "Design", "wiring": "Wiring | None", "return": "object"}
    module = ModuleType("with_or_without")
    module.make = make  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "with_or_without", module)
    monkeypatch.setattr(
        study_module, "NEEDS", {**study_module.NEEDS, "Either": ("with_or_without", "")}
    )
    assert Study(DESIGN).get("Either") == (DESIGN, None)
    make.__annotations__["wiring"] = "Wiring"
    with pytest.raises(Missing, match="wiring"):
        Study(DESIGN).get("Either")
