"""The list of rules and a rule's page: recorded, and light."""

from __future__ import annotations

from dataclasses import dataclass

import sample_review
from coldcheck.lint.engine import catalogue, stories
from coldcheck.lint.model import Signal
from coldcheck.lint.reports import rulepage
from recording import same_as_recorded


@dataclass
class Scene:
    tells: str
    change: str


@dataclass
class Story:
    fires: tuple[Scene, ...]
    silent: tuple[Scene, ...]


STORY = Story(
    fires=(
        Scene("the resistor that drains C9's leakage was left out", "without R21"),
        Scene(
            "the \x1b[2J resistor is ten times too large, and several others were changed with it",
            'parts.R21.value = "2M2"; parts.R22.value = "2M2"; parts.R23.value = "2M2"',
        ),
    ),
    silent=(Scene("larger than usual, still small enough", 'parts.R21.value = "270k"'),),
)


def test_the_list_is_as_recorded() -> None:
    cards = sample_review.review().cards.values()
    same_as_recorded("rules.txt", rulepage.listing(reversed(list(cards))))


def test_a_page_is_as_recorded() -> None:
    same_as_recorded("rule.txt", rulepage.page(sample_review.OUTPUT, STORY))


def test_a_page_without_a_story_has_no_examples() -> None:
    page = rulepage.page(sample_review.PUNCH, None)
    assert "Speaks when" not in page
    assert "No source is given." in page


def test_pages_are_wrapped() -> None:
    cards = sample_review.review().cards
    text = rulepage.listing(cards.values(), 60) + rulepage.page(sample_review.OUTPUT, STORY, 60)
    assert max(map(len, text.splitlines())) <= 60


def test_the_area_of_a_packs_rule_holds_the_packs_name() -> None:

    assert rulepage.area_of(sample_review.PUNCH._replace(rule="bench/heaters/own")) == (
        "bench/heaters"
    )


def test_every_rule_there_is_has_a_page_that_prints() -> None:
    cards = catalogue.cards()
    assert cards
    for text in (
        rulepage.listing(cards),
        *(rulepage.page(card, stories.story(card.rule)) for card in cards),
    ):
        for line in text.splitlines():
            assert len(line) <= 80, line
            assert line.isprintable()


def test_every_rule_there_is_is_listed_once() -> None:
    cards = catalogue.cards()
    lines = rulepage.listing(cards).splitlines()
    words = tuple(word.name for word in Signal)
    listed = [
        line.split()[1] for line in lines if line.startswith("  ") and line.split()[0] in words
    ]
    assert sorted(listed) == sorted(card.rule for card in cards)
