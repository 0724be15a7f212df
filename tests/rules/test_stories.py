"""Every rule's story, run against the whole rule book.

A scene is one change to a clean design.  Its reports must come from the rule whose story it is,
saying what the scene demands; no other rule may find a fault, but for those the scene names.
Others may become unable to judge: a type that is not known leaves every rule of tubes open.
"""

from __future__ import annotations

import copy

import pytest

from coldcheck.lint.engine.catalogue import catalogue
from coldcheck.lint.engine.stories import Expected, Scene
from coldcheck.lint.model import Finding, Kind
from scenes import REPORTING, SCENES, clean, played, said, short, written


def fits(finding: Finding, expected: Expected) -> bool:
    told = " ".join((finding.says, finding.remedy, *finding.working, finding.datum))
    return (
        finding.kind.value == expected.kind
        and finding.about.name == expected.about
        and (not expected.word or finding.signal.name == expected.word)
        and all(mention in told for mention in expected.mentions)
    )


@pytest.mark.parametrize("name", SCENES, ids=short)
def test_scene(name: str) -> None:
    rule, scene = SCENES[name]
    after = played(name)
    assert not after.crashes, after.crashes
    fresh = said(after) - said(clean(scene.base))
    new = [
        f
        for f in (*after.findings, *after.opens)
        if (f.rule, f.kind.value, f.about.name, f.says or f.datum) in fresh
    ]
    left = [finding for finding in new if finding.rule == rule]
    for expected in scene.reports:
        match = next((finding for finding in left if fits(finding, expected)), None)
        shown = [
            (f.kind.value, f.signal.name, f.about.name, f.says, f.remedy, f.working, f.datum)
            for f in left
        ]
        assert match is not None, f"nothing fits {expected}; there is {shown}"
        left.remove(match)
    assert not left, [(f.kind.value, f.about.name, f.says or f.datum) for f in left]
    faults = {f.rule: f"{f.about}: {f.says}" for f in new if f.kind is Kind.FAIL}
    unexpected = {name: faults[name] for name in faults.keys() - {rule, *scene.also}}
    assert not unexpected, unexpected
    silent = set(scene.also) - {f.rule for f in new}
    assert not silent, f"named in `also`, and silent: {silent}"


@pytest.mark.parametrize("name", REPORTING, ids=short)
def test_what_fails_does_not_pass_as_well(name: str) -> None:
    """But for a figure: one that is kept does not clear another, or another state."""
    rule, _scene = SCENES[name]
    review = played(name)
    failed = {f.about for f in (*review.findings, *review.opens) if f.rule == rule}
    cleared = {f.about for f in review.passes if f.rule == rule and f.value is None}
    assert not failed & cleared


@pytest.mark.parametrize("rule", sorted(catalogue().rules))
def test_a_rule_that_can_pass_does(rule: str) -> None:
    if "yield Pass(" not in catalogue().files[rule].read_text(encoding="utf-8"):
        pytest.skip("it speaks of faults only")
    near = [name for name, (owner, scene) in SCENES.items() if owner == rule and not scene.reports]
    assert any(f.rule == rule for name in near for f in played(name).passes)


@pytest.mark.parametrize("base", sorted({scene.base for _rule, scene in SCENES.values()}))
def test_the_clean_design_is_clean(base: str) -> None:
    review = clean(base)
    assert not review.crashes, review.crashes
    assert not review.findings, [(f.rule, f.says) for f in review.findings]
    assert review.passes


def test_applying_a_scene_leaves_the_base_alone() -> None:
    raw, _positions = written("lantern")
    before = copy.deepcopy(raw)
    changed = Scene("", "", "lantern", ("R1",), {"parts.R3.value": "1M"}).apply(raw)
    assert raw == before
    assert "R1" not in changed["parts"] and "R1" not in changed["leads"]
    assert changed["parts"]["R3"]["value"] == "1M"


@pytest.mark.parametrize("wrong", ["R99", "parts.R99"])
def test_a_scene_that_does_not_fit_its_base_is_an_error(wrong: str) -> None:
    raw, _positions = written("lantern")
    with pytest.raises(KeyError):
        Scene("", "", "lantern", (wrong,)).apply(raw)
