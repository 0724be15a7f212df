"""Straight spans in space: how long two of them lie near each other."""

from __future__ import annotations

import itertools
import math

Point = tuple[float, float, float]


def near(a: Point, b: Point, c: Point, d: Point, close: float) -> tuple[float, float, float]:
    """From which to which share of the way from a to b that from c to d is within ``close``, and how
    near it comes; all in metres.

    The nearest place of the other is one of its ends or moves along it; while it does either, the
    distance squared is a parabola.  The shares are 0 and 0 where it never is so near.
    """
    way, along, off = _minus(b, a), _minus(d, c), _minus(a, c)
    square = _dot(along, along) or 1.0
    at, rate = _dot(off, along) / square, _dot(way, along) / square
    turns = [(foot - at) / rate for foot in (0.0, 1.0)] if rate else []
    begin, end, least = math.inf, 0.0, math.inf
    for first, last in itertools.pairwise([0.0, *sorted(t for t in turns if 0.0 < t < 1.0), 1.0]):
        midway = at + 0.5 * (first + last) * rate
        foot, moves = (at, rate) if 0.0 < midway < 1.0 else (min(max(midway, 0.0), 1.0), 0.0)
        apart, gained = _on(off, -foot, along), _on(way, -moves, along)
        bend, slope = _dot(gained, gained), _dot(apart, gained)
        middle = -slope / bend if bend else first
        lowest = min(max(middle, first), last)
        gap = max(_dot(apart, apart) + lowest * (2.0 * slope + lowest * bend), 0.0)
        least = min(least, math.sqrt(gap))
        if gap <= close**2:
            deepest = _dot(apart, apart) + middle * (2.0 * slope + middle * bend)
            half = math.sqrt(max(close**2 - deepest, 0.0) / bend) if bend else 1.0
            begin, end = min(begin, max(middle - half, first)), max(end, min(middle + half, last))
    return min(begin, end), end, least


def _minus(a: Point, b: Point) -> Point:
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def _on(a: Point, share: float, b: Point) -> Point:
    """A place, and a share of a way on from there."""
    return a[0] + share * b[0], a[1] + share * b[1], a[2] + share * b[2]


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
