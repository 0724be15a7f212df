"""Every rule's story, run against the whole rule book.

A scene is one change to a clean design.  Its reports must come from the rule whose story it is,
saying what the scene demands; no other rule may speak up, but for those the scene names.
"""

from __future__ import annotations

import copy
import datetime
import functools
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

import coldcheck.projects
from coldcheck.lint.engine.catalogue import catalogue
from coldcheck.lint.engine.review import review_values
from coldcheck.lint.engine.stories import Expected, Scene, story
from coldcheck.lint.model import Finding, Review
from coldcheck.lint.read.positions import Positions
from coldcheck.lint.read.toml import read_file

TODAY = datetime.date(2026, 1, 31)
PROJECTS = Path(next(iter(coldcheck.projects.__path__)))
SCENES = [
    pytest.param(rule, scene, id=f"{rule}: {scene.tells}")
    for rule in catalogue().rules
    if (told := story(rule)) is not None
    for scene in told.scenes
]


@functools.cache
def written(base: str) -> tuple[Mapping[str, Any], Positions]:
    return read_file(PROJECTS / f"{base}.toml")


def reviewed(base: str, scene: Scene | None = None) -> Review:
    raw, positions = written(base)
    # the places are those of the unchanged file: only what is said is judged here
    return review_values(scene.apply(raw) if scene else raw, positions, f"{base}.toml", TODAY)


@functools.cache
def clean(base: str) -> Review:
    return reviewed(base)


def said(review: Review) -> Counter[tuple[str, str, str, str]]:
    """What was reported: rule, kind, subject, and the sentence or the datum wanted."""
    return Counter(
        (f.rule, f.kind.value, f.about.name, f.says or f.datum)
        for f in (*review.findings, *review.opens)
    )


def fits(finding: Finding, expected: Expected) -> bool:
    told = " ".join((finding.says, finding.remedy, *finding.working, finding.datum))
    return (
        finding.kind.value == expected.kind
        and finding.about.name == expected.about
        and (not expected.word or finding.signal.name == expected.word)
        and all(mention in told for mention in expected.mentions)
    )


@pytest.mark.parametrize(("rule", "scene"), SCENES)
def test_scene(rule: str, scene: Scene) -> None:
    before, after = clean(scene.base), reviewed(scene.base, scene)
    assert not after.crashes, after.crashes
    fresh = said(after) - said(before)
    new = [
        finding
        for finding in (*after.findings, *after.opens)
        if (finding.rule, finding.kind.value, finding.about.name, finding.says or finding.datum)
        in fresh
    ]
    own = [finding for finding in new if finding.rule == rule]
    left = list(own)
    for expected in scene.reports:
        match = next((finding for finding in left if fits(finding, expected)), None)
        shown = [
            (f.kind.value, f.signal.name, f.about.name, f.says, f.remedy, f.working, f.datum)
            for f in left
        ]
        assert match is not None, f"nothing fits {expected}; there is {shown}"
        left.remove(match)
    assert not left, [(f.kind.value, f.about.name, f.says or f.datum) for f in left]
    loud = {finding.rule: finding.says or finding.datum for finding in new}
    unexpected = {name: loud[name] for name in loud.keys() - {rule, *scene.also}}
    assert not unexpected, unexpected
    assert not scene.also or set(scene.also) <= loud.keys(), "a rule in `also` kept silent"


def test_applying_a_scene_leaves_the_base_alone() -> None:
    raw, _positions = written("lantern")
    before = copy.deepcopy(raw)
    Scene("", "", "lantern", ("R1",), {"parts.R3.value": "1M"}).apply(raw)
    assert raw == before
