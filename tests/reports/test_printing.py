"""How a figure, a limit and a source read."""

from __future__ import annotations

import math

import pytest

from coldcheck.lint import printing
from coldcheck.lint.model import Basis, Figure, Limit, Source


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (0.00085, "A", "0.85 mA"),
        (math.inf, "s", "for good"),
        (math.inf, "ohm", "infinite"),
        (1.84, "x", "1.84 times"),
        (math.inf, "x", "infinite"),
        (math.nan, "V", "not a number"),
        (3.0, "\x1b[2J", "3 \\u001b[2J"),
    ],
)
def test_figures(value: float, unit: str, shown: str) -> None:
    assert printing.figure(Figure(value, unit)) == shown


@pytest.mark.parametrize(("most", "shown"), [(True, "at most 60 V"), (False, "at least 60 V")])
def test_limits(most: bool, shown: str) -> None:
    source = Source("key", "a standard", Basis.STANDARD)
    assert printing.limit(Limit(Figure(60.0, "V"), source, most)) == shown


@pytest.mark.parametrize(
    ("text", "basis", "shown"),
    [
        ("a standard", Basis.STANDARD, "a standard"),
        ("a standard", Basis.MEMORY, "a standard, from memory"),
        ("a standard (from memory)", Basis.MEMORY, "a standard (from memory)"),
        ("habit", Basis.PRACTICE, "habit, common practice, no source"),
    ],
)
def test_a_weak_source_says_so(text: str, basis: Basis, shown: str) -> None:
    assert printing.source(Source("key", text, basis)) == shown
