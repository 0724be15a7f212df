"""How long two straight spans lie near each other: by hand, and against many spots looked at."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lint.physics.spans import Point, near

PLACE = st.tuples(*[st.floats(-0.3, 0.3)] * 3)


def distance(spot: Point, c: Point, d: Point) -> float:
    """From a spot to a span, as school geometry has it."""
    way = [q - p for p, q in zip(c, d, strict=True)]
    square = sum(w * w for w in way)
    along = sum((s - p) * w for s, p, w in zip(spot, c, way, strict=True))
    share = min(max(along / square, 0.0), 1.0) if square > 0.0 else 0.0
    return math.dist(spot, [p + share * w for p, w in zip(c, way, strict=True)])


def test_parallel_wires_are_near_all_the_way_or_nowhere() -> None:
    a, b = (0.0, 0.0, 0.0), (0.1, 0.0, 0.0)
    assert near(a, b, (0.0, 0.02, 0.0), (0.1, 0.02, 0.0), 0.025) == pytest.approx((0, 1, 0.02))
    assert near(a, b, (0.0, 0.03, 0.0), (0.1, 0.03, 0.0), 0.025) == pytest.approx((0, 0, 0.03))


def test_crossing_wires_are_near_for_twice_the_distance() -> None:
    """Two at right angles that pass 15 mm apart are within 25 mm over 2 * 20 mm."""
    begin, end, least = near(
        (-0.1, 0.0, 0.0), (0.1, 0.0, 0.0), (0.0, -0.1, 0.015), (0.0, 0.1, 0.015), 0.025
    )
    assert (begin, end, least) == pytest.approx((0.4, 0.6, 0.015))


def test_a_span_without_length_is_a_spot() -> None:
    spot = (0.0, 0.01, 0.0)
    begin, end, least = near((-0.1, 0.0, 0.0), (0.1, 0.0, 0.0), spot, spot, 0.01)
    assert (begin, end, least) == pytest.approx((0.5, 0.5, 0.01))
    assert near(spot, spot, (0.0, 0.0, 0.0), (0.1, 0.0, 0.0), 0.02)[2] == pytest.approx(0.01)


@given(PLACE, PLACE, PLACE, PLACE, st.floats(0.005, 0.2))
def test_as_many_spots_have_it(a: Point, b: Point, c: Point, d: Point, close: float) -> None:
    begin, end, least = near(a, b, c, d, close)
    for k in range(101):
        share = k / 100.0
        apart = distance((
            a[0] + share * (b[0] - a[0]),
            a[1] + share * (b[1] - a[1]),
            a[2] + share * (b[2] - a[2]),
        ), c, d)  # fmt: skip
        assert apart >= least - 1e-7
        if apart < close - 1e-6:
            assert begin - 1e-6 <= share <= end + 1e-6
        if begin + 1e-6 < share < end - 1e-6:
            assert apart <= close + 1e-6
