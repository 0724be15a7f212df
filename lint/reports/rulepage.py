"""The list of rules and the page of one rule, as plain text; no colour and no heavy library."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Protocol

from coldcheck.lint.model import Card
from coldcheck.lint.printing import clean, source
from coldcheck.lint.reports.words import count, sentence
from coldcheck.lint.signal import gravest


class Scene(Protocol):
    """A change to a clean design: in words, and as the document would have it."""

    @property
    def tells(self) -> str: ...

    @property
    def change(self) -> str: ...


class Story(Protocol):
    """The changes that make the rule speak, and near misses that do not."""

    @property
    def fires(self) -> Sequence[Scene]: ...

    @property
    def silent(self) -> Sequence[Scene]: ...


def listing(cards: Iterable[Card], width: int = 80, remarks: Sequence[str] = ()) -> str:
    """Every rule with its signal word and title, grouped by area; then what was left out."""
    ordered = sorted(cards, key=lambda card: card.rule)
    lines = [
        f"{count(len(ordered), 'rule')}. The word is the gravest each can say.",
    ]
    for area, group in groupby(ordered, key=area_of):
        lines += ["", clean(area)]
        for card in group:
            head = f"  {gravest(card.harm).name:<8} {clean(card.rule)}"
            lines += [head, *_wrapped(clean(card.title), width, "           ")]
    for remark in remarks:
        lines += ["", *_wrapped(f"Remark: {sentence(clean(remark))}", width, "")]
    return "\n".join(lines) + "\n"


def area_of(card: Card) -> str:
    """The rule's name without its last word: ``stored-energy``, or ``pack/area`` of a pack."""
    return card.rule.rpartition("/")[0]


def page(card: Card, story: Story | None, width: int = 80) -> str:
    """What a rule protects against, its limits' sources, its needs, and tried examples."""
    lines = [
        clean(card.rule),
        *_wrapped(sentence(clean(card.title)), width, ""),
        "",
        *_wrapped(f"{gravest(card.harm).name}: {card.harm.value}.", width, ""),
        "",
        "What it protects against",
        *_wrapped(clean(" ".join(card.why.split())), width, "  "),
        "",
        "Where its limits come from",
    ]
    for cited in card.sources:
        lines += _wrapped(f"- {source(cited)}", width, "  ", hang="  ")
    if not card.sources:
        lines.append("  No source is given.")
    lines += ["", "What it looks at", *_wrapped(_list(card.needs), width, "  ")]
    if card.states:
        lines += ["", "States it judges", *_wrapped(_list(card.states), width, "  ")]
    if story is not None:
        lines += _examples("Speaks when", story.fires, width)
        lines += _examples("Keeps silent when", story.silent, width)
    return "\n".join(lines) + "\n"


def _examples(heading: str, scenes: Sequence[Scene], width: int) -> list[str]:
    if not scenes:
        return []
    lines = ["", heading]
    for scene in scenes:
        lines += _wrapped(f"- {clean(scene.tells)}", width, "  ", hang="  ")
        lines += _wrapped(clean(scene.change), width, "      ")
    return lines


def _list(items: Sequence[str]) -> str:
    return clean(", ".join(items)) or "nothing beyond the document itself"


def _wrapped(text: str, width: int, indent: str, hang: str = "") -> list[str]:
    return textwrap.wrap(
        text, max(width, 40), initial_indent=indent, subsequent_indent=indent + hang
    )
