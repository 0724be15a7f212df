"""The command line is tested on hand-made reviews, in an empty folder."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

import pytest

from stand_in import DOCUMENT, Catalogue, Engine, Story, cards


@pytest.fixture
def engine(monkeypatch: pytest.MonkeyPatch) -> Engine:
    made = Engine()
    review = ModuleType("coldcheck.lint.engine.review")
    catalogue = ModuleType("coldcheck.lint.engine.catalogue")
    stories = ModuleType("coldcheck.lint.engine.stories")
    state = ModuleType("coldcheck.lint.state.values")
    review.review_path = made.review_path  # type: ignore[attr-defined]
    review.review_text = made.review_text  # type: ignore[attr-defined]
    catalogue.catalogue = Catalogue  # type: ignore[attr-defined]
    catalogue.cards = cards  # type: ignore[attr-defined]
    stories.story = lambda rule: Story()  # type: ignore[attr-defined]
    text = ModuleType("coldcheck.lint.state.text")
    state.study_of = lambda path, types: path  # type: ignore[attr-defined]
    state.values = lambda study: {"z": 1.0, "a": [study]}  # type: ignore[attr-defined]
    text.text = lambda told: f"{told}\n"  # type: ignore[attr-defined]
    for module in (review, catalogue, stories, state, text):
        monkeypatch.setitem(sys.modules, module.__name__, module)
    return made


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty current folder, and an environment that says nothing about colour."""
    monkeypatch.chdir(tmp_path)
    for name in ("NO_COLOR", "TERM", "COLDCHECK_TRACE", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


@pytest.fixture
def amp(here: Path) -> str:
    (here / "amp.toml").write_text(DOCUMENT, encoding="utf-8")
    return "amp.toml"
