"""A suggestion for a misspelt key."""

from __future__ import annotations

from collections.abc import Iterable

LONGEST = 64
"""Characters; longer words are not slips of the pen, and comparing them takes quadratic time."""


def nearest(word: str, candidates: Iterable[str]) -> str | None:
    """The candidate that ``word`` most likely stands for, or None when none is close.

    >>> nearest("dielectic", ["dielectric", "value", "voltage"])
    'dielectric'
    """
    from difflib import get_close_matches  # costs 2 ms, and most documents have no slip

    if len(word) > LONGEST:
        return None
    by_shape: dict[str, str] = {}
    for candidate in sorted(candidates):
        by_shape.setdefault(_shape(candidate), candidate)
    # 0.7 of the letters in order: one slip in a word of four still matches, two do not.
    close = get_close_matches(_shape(word), by_shape, n=1, cutoff=0.7)
    return by_shape[close[0]] if close else None


def _shape(word: str) -> str:
    return word.casefold().replace("-", "_").replace(" ", "_")
