"""The scenes of every rule's story, reviewed once each against the whole rule book."""

from __future__ import annotations

import datetime
import functools
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import coldcheck.projects
from coldcheck.lint.engine.catalogue import catalogue
from coldcheck.lint.engine.review import review_values
from coldcheck.lint.engine.stories import Scene, story
from coldcheck.lint.model import Review
from coldcheck.lint.read.positions import Positions
from coldcheck.lint.read.toml import read_file

TODAY = datetime.date(2026, 1, 31)
PROJECTS = Path(next(iter(coldcheck.projects.__path__)))
SCENES: dict[str, tuple[str, Scene]] = {
    f"{rule}: {scene.tells}": (rule, scene)
    for rule in catalogue().rules
    if (told := story(rule)) is not None
    for scene in told.scenes
}
"""By rule and what is told: the rule whose story it is, and the scene."""
REPORTING = tuple(name for name, (_rule, scene) in SCENES.items() if scene.reports)
"""Those in which the rule has something to say."""


def short(name: str) -> str:
    """A scene's name as a test's: pytest would number the long ones, and not the same everywhere."""
    return name if len(name) < 80 else f"{name[:77]}..."


@functools.cache
def written(base: str) -> tuple[Mapping[str, Any], Positions]:
    """A demo as parsed, with its places."""
    return read_file(PROJECTS / f"{base}.toml")


@functools.cache
def clean(base: str) -> Review:
    """A demo's review as it stands."""
    return review_values(*written(base), f"{base}.toml", TODAY)


@functools.cache
def played(name: str) -> Review:
    """A scene's review; its places are those of the unchanged file."""
    _rule, scene = SCENES[name]
    raw, positions = written(scene.base)
    return review_values(scene.apply(raw), positions, f"{scene.base}.toml", TODAY)


Said = tuple[str, str, str, str]


def said(review: Review) -> Counter[Said]:
    """What was reported: rule, kind, subject, and the sentence or the datum wanted."""
    return Counter(
        (f.rule, f.kind.value, f.about.name, f.says or f.datum)
        for f in (*review.findings, *review.opens)
    )
