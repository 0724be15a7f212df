"""The house rules for rules: what every one of them has, and how it speaks."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from coldcheck.lint.engine.catalogue import catalogue
from coldcheck.lint.engine.stories import story
from coldcheck.lint.rulekit import NEEDS
from scenes import REPORTING, SCENES, played, short

MOST_LINES = 90
ALLOWED = {"__future__", "collections.abc", "dataclasses", "difflib", "itertools", "math", "typing"}
RULES = sorted(catalogue().rules)


def code_lines(file: Path) -> int:
    """Lines of code: no blank ones, no comments, no docstring of the module."""
    text = file.read_text(encoding="utf-8")
    opening = ast.parse(text).body[0]
    told = range(opening.lineno, (opening.end_lineno or 0) + 1)
    lines = [line.strip() for at, line in enumerate(text.splitlines(), 1) if at not in told]
    return sum(1 for line in lines if line and not line.startswith("#"))


@pytest.mark.parametrize("rule", RULES)
def test_card(rule: str) -> None:
    card = catalogue().rules[rule].card
    assert card.sources and all(source.text for source in card.sources)
    assert len(card.why) > 80 and card.why.endswith(".")
    assert card.title[0].isupper() and not card.title.endswith(".") and len(card.title) <= 80
    assert set(catalogue().rules[card.rule].facts) <= set(NEEDS)


@pytest.mark.parametrize("rule", RULES)
def test_story_fires_and_nearly_does(rule: str) -> None:
    told = story(rule)
    assert told is not None, f"no story beside {catalogue().files[rule]}"
    assert any(e.kind == "fail" for scene in told.fires for e in scene.reports)
    assert told.silent, "no near miss: a change that must not be reported"
    for scene in told.scenes:
        assert scene.tells and not scene.tells.endswith("."), scene.tells
        assert scene.change != "as it stands", "a scene changes something"


@pytest.mark.parametrize("rule", RULES)
def test_file(rule: str) -> None:
    file = catalogue().files[rule]
    tree = ast.parse(file.read_text(encoding="utf-8"))
    assert code_lines(file) <= MOST_LINES
    assert ast.get_docstring(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            assert {name.name for name in node.names} <= ALLOWED, ast.unparse(node)
        if isinstance(node, ast.ImportFrom):
            assert node.module == "coldcheck.lint.rulekit" or node.module in ALLOWED, ast.unparse(
                node
            )


def test_no_two_rules_share_a_title() -> None:
    titles = [rule.card.title for rule in catalogue().rules.values()]
    assert len(titles) == len(set(titles))


@pytest.mark.parametrize("name", REPORTING, ids=short)
def test_wording(name: str) -> None:
    """A sentence opens with the part or net, or with a noun in small letters, and names both."""
    rule, _scene = SCENES[name]
    review = played(name)
    names = {str(subject) for f in review.findings for subject in (f.about, *f.others)}
    for finding in (f for f in review.findings if f.rule == rule):
        for sentence in (finding.says, finding.remedy):
            assert sentence and "\n" not in sentence and not sentence.endswith((".", "!")), sentence
        named = any(finding.says.startswith(name) for name in names)
        assert named or finding.says[0].islower(), finding.says
        assert re.search(r"\d", finding.says) or str(finding.about) in finding.says, finding.says
        assert len(finding.says) <= 200, finding.says
