"""The JSON report: recorded, and enough to build the whole review again."""

from __future__ import annotations

import json
import math
import types
import typing
from collections.abc import Mapping
from enum import Enum

import pytest

import sample_review
from coldcheck.lint.model import Basis, Card, Harm, Kind, Review, Signal
from coldcheck.lint.reports import machine
from recording import same_as_recorded


def rebuild(kind: object, value: object) -> object:
    """A value of the model's type ``kind`` from what JSON holds of it."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        if value is None:
            return None
        plain = [one for one in inner if one in (str, int)]
        return value if plain else rebuild(inner[0], value)
    if origin is tuple:
        assert isinstance(value, list)
        return tuple(rebuild(inner[0], item) for item in value)
    if kind is float:
        return float(typing.cast("str | float", value))
    if isinstance(kind, type) and issubclass(kind, Enum):
        return kind[str(value)] if kind in (Signal, Harm) else kind(value)
    if isinstance(kind, type) and hasattr(kind, "_fields"):
        assert isinstance(value, dict)
        hints = typing.get_type_hints(kind)
        names = [name for name in kind._fields if name in value]
        return kind(**{name: rebuild(hints[name], value[name]) for name in names})
    return value


def rebuilt(document: dict[str, typing.Any], number: int) -> Review:
    review = dict(document["reviews"][number])
    del review["counts"]
    made = rebuild(Review, review)
    assert isinstance(made, Review)
    cards = {
        rule: rebuild(Card, {"rule": rule, **card}) for rule, card in document["rules"].items()
    }
    return made._replace(cards=typing.cast("Mapping[str, Card]", cards))


def test_every_outcome_is_reported_as_recorded() -> None:
    same_as_recorded("everything.json", machine.report([sample_review.review()], "0.0"))


@pytest.mark.parametrize("make", [sample_review.review, sample_review.hostile])
def test_nothing_is_lost(make: typing.Callable[[], Review]) -> None:
    document = json.loads(machine.report([make()], "0.0"))
    assert rebuilt(document, 0) == make()


def test_several_documents_share_the_rules() -> None:
    both = [sample_review.review(), sample_review.spotless()]
    document = json.loads(machine.report(both, "0.0"))
    assert [review["project"] for review in document["reviews"]] == ["Porch Light", "Quiet"]
    assert set(document["rules"]) == set(both[0].cards)


def test_an_unreadable_document_is_named() -> None:
    text = machine.report([], "0.0", [("a.toml", ("a.toml:1:1: found x, expected y",))])
    assert json.loads(text)["unread"] == [
        {"file": "a.toml", "troubles": ["a.toml:1:1: found x, expected y"]}
    ]


def test_accepted_findings_are_not_counted() -> None:
    counts = json.loads(machine.report([sample_review.review()], "0.0"))["reviews"][0]["counts"]
    assert counts == {"DANGER": 1, "WARNING": 1, "CAUTION": 1, "NOTICE": 0, "NOTE": 1}


@pytest.mark.parametrize(
    ("value", "shown"), [(math.inf, "Infinity"), (-math.inf, "-Infinity"), (math.nan, "NaN")]
)
def test_numbers_json_cannot_hold_become_texts(value: float, shown: str) -> None:
    figure = sample_review.SLOW.value._replace(value=value)  # type: ignore[type-var]
    finding = sample_review.SLOW._replace(value=figure)
    review = sample_review.spotless()._replace(findings=(finding,))
    report = machine.report([review], "0.0")
    strict = json.loads(report, parse_constant=lambda name: pytest.fail(f"bare {name}"))
    assert strict["reviews"][0]["findings"][0]["value"]["value"] == shown


def test_the_report_is_plain_ascii_with_sorted_keys() -> None:
    text = machine.report([sample_review.hostile()], "0.0")
    assert text.isascii()
    assert all(mark.isprintable() or mark == "\n" for mark in text)
    document = json.loads(text)
    assert text == json.dumps(document, indent=1, sort_keys=True) + "\n"


def test_the_vocabulary_is_that_of_the_model() -> None:
    finding = json.loads(machine.report([sample_review.review()], "0"))["reviews"][0]["findings"][0]
    assert finding["kind"] == Kind.FAIL.value
    assert finding["signal"] == Signal.DANGER.name
    assert finding["limit"]["source"]["basis"] == Basis.MEMORY.value
