"""How figures and document texts are put in front of a reader; every report uses these."""

from __future__ import annotations

import math

from coldcheck.lint.model import Basis, Figure, Limit, Source
from coldcheck.lint.read.errors import clean
from coldcheck.schemas.quantity import show

__all__ = ["clean", "figure", "limit", "source"]

NOTHING = {"V": 1e-8, "A": 1e-9, "W": 1e-9}
"""Below this a computed figure is rounding, which differs between machines; our choice."""
_SAID = (Basis.MEMORY, Basis.ASSUMED, Basis.PRACTICE)


def figure(number: Figure) -> str:
    """A figure for a reader: ``850 uA``; a time without end is ``for good``.

    The unit ``"x"`` is a ratio: ``1.8 times``.
    """
    if number.unit == "s" and number.value == math.inf:
        return "for good"
    if number.unit == "x" and math.isfinite(number.value):
        return f"{show(number.value, '')} times"
    value = 0.0 if abs(number.value) < NOTHING.get(number.unit, 0.0) else number.value
    return clean(show(value, number.unit))


def limit(bound: Limit) -> str:
    """A limit without its source: ``at most 60 V``."""
    return f"{'at most' if bound.most else 'at least'} {figure(bound.figure)}"


def source(where: Source) -> str:
    """A source as cited, followed by its basis when that is weaker than a document in hand."""
    text = clean(where.text)
    if where.basis in _SAID and where.basis.value not in text:
        return f"{text}, {where.basis.value}"
    return text
