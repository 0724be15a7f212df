"""A stand-in for the engine: it answers with hand-made reviews and remembers what it was asked."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import sample_review
from coldcheck.lint.model import Card, Place, Review
from coldcheck.lint.read.errors import InputError, Trouble

DOCUMENT = 'format = 1\n[project]\nname = "Any"\n[parts]\n[schematic]\n'


@dataclass
class Engine:
    """What the stand-in answers, and what it was asked."""

    review: Review = field(default_factory=sample_review.spotless)
    asked: list[str] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)
    only: tuple[str, ...] = ()
    fault: BaseException | None = None

    types: list[object] = field(default_factory=list)

    def review_path(
        self,
        path: str,
        today: datetime.date,
        only: Sequence[str],
        types: object,
        abreast: bool = False,
    ) -> Review:
        return self.review_text(Path(path).read_bytes(), path, today, only, types)

    def review_text(
        self,
        data: bytes,
        name: str,
        today: datetime.date,
        only: Sequence[str],
        types: object,
        abreast: bool = False,
    ) -> Review:
        self.asked.append(name)
        self.types.append(types)
        self.only = tuple(only)
        if self.fault is not None:
            raise self.fault
        if Path(name).name in self.broken:
            place = Place(name, 3, 5, 3, 6)
            raise InputError(
                Trouble(place, "'sixty'", 'a voltage such as "60 V"'),
                Trouble(Place(name, 4, 1, 4, 6), "'plts'", "a known key", "did you mean plates?"),
            )
        return self.review


@dataclass(frozen=True)
class Scene:
    tells: str
    change: str


@dataclass
class Story:
    fires: tuple[Scene, ...] = (Scene("the bleeder was left out", "without R1"),)
    silent: tuple[Scene, ...] = (Scene("a larger one", 'parts.R1.value = "270k"'),)


@dataclass(frozen=True)
class Catalogue:
    notes: tuple[str, ...] = ("rule pack 'bench' was left out",)


def cards() -> tuple[Card, ...]:
    return tuple(sorted(sample_review.review().cards.values(), key=lambda card: card.rule))
