"""Dipoles, loops and wires against closed forms of the textbooks."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from coldcheck.lint.physics.magnetics import (
    MU0,
    Vector,
    coil_flux,
    cross,
    dot,
    emf,
    field,
    loop_flux,
    moment_of,
    size,
)
from coldcheck.lint.physics.wires import EPSILON0, pair_flux, wire_capacitance

UP: Vector = (0.0, 0.0, 1.0)
parts = st.floats(-1.0, 1.0).map(lambda x: round(x, 3))
vectors = st.tuples(parts, parts, parts)


def test_on_the_axis_and_beside() -> None:
    """mu0 2 m / (4 pi r^3) on the axis, half of it and the other way round at the equator."""
    on_axis, beside = field(UP, (0.0, 0.0, 0.2)), field(UP, (0.2, 0.0, 0.0))
    assert on_axis == pytest.approx((0.0, 0.0, 2e-7 / 0.2**3))
    assert beside == pytest.approx((0.0, 0.0, -1e-7 / 0.2**3))
    assert moment_of(on_axis[2], 0.2) == pytest.approx(1.0)
    with pytest.raises(ValueError, match="own place"):
        field(UP, (0.0, 0.0, 0.0))


@given(vectors, vectors)
def test_the_field_falls_with_the_cube(moment: Vector, offset: Vector) -> None:
    assume(size(offset) > 0.01)
    near, far = field(moment, offset), field(moment, tuple(2.0 * x for x in offset))  # type: ignore[arg-type]
    assert [8.0 * x for x in far] == pytest.approx(near, abs=1e-12)


@pytest.mark.parametrize("degrees", [0, 30, 60, 90, 135])
def test_a_coil_turned_away_links_the_cosine(degrees: int) -> None:
    turned = math.radians(degrees)
    linked = coil_flux(UP, (0.0, 0.0, 0.3), (math.sin(turned), 0.0, math.cos(turned)), 2.0)
    assert linked == pytest.approx(2.0 * 2e-7 / 0.3**3 * math.cos(turned), abs=1e-15)


def test_axes_at_right_angles_couple_only_off_both() -> None:
    """Nothing on the axis or the equator; most at 45 degrees between: 3/4 of it on the axis."""
    across: Vector = (1.0, 0.0, 0.0)
    assert coil_flux(UP, (0.0, 0.0, 0.3), across, 1.0) == 0.0
    assert coil_flux(UP, (0.3, 0.0, 0.0), across, 1.0) == 0.0
    aslant = 0.3 / math.sqrt(2.0)
    most = coil_flux(UP, (aslant, 0.0, aslant), across, 1.0)
    assert most == pytest.approx(0.75 * 2e-7 / 0.3**3)


@given(vectors, vectors, vectors)
def test_two_coils_couple_alike_both_ways(one: Vector, other: Vector, offset: Vector) -> None:
    """Reciprocity: what each links of the other's current is the same."""
    assume(size(offset) > 0.05)
    there = coil_flux(one, offset, other, 1.0)
    back = coil_flux(other, tuple(-x for x in offset), one, 1.0)  # type: ignore[arg-type]
    assert there == pytest.approx(back, rel=1e-9, abs=1e-18)


def polygon(sides: int, radius: float, height: float) -> list[Vector]:
    """A polygon of the area of a circle, seen from above anticlockwise."""
    full = radius * math.sqrt(2.0 * math.pi / sides / math.sin(2.0 * math.pi / sides))
    turns = (2.0 * math.pi * k / sides for k in range(sides))
    return [(full * math.cos(t), full * math.sin(t), height) for t in turns]


def test_a_dipole_through_a_circle_on_its_axis() -> None:
    """mu0 m a^2 / (2 (a^2 + z^2)^1.5), Smythe sec. 7.10 (from memory)."""
    for height in (0.0, 0.05, 0.2):
        exact = MU0 * 0.1**2 / (2.0 * (0.1**2 + height**2) ** 1.5)
        assert loop_flux(UP, (0.0, 0.0, 0.0), polygon(720, 0.1, height)) == pytest.approx(
            exact, rel=1e-4
        )


def test_a_square_round_a_dipole() -> None:
    """Each side of 2a: mu0 m / (4 pi) a 2a / (a^2 sqrt(2) a), four of them (by hand)."""
    a = 0.05
    square: list[Vector] = [(-a, -a, 0.0), (a, -a, 0.0), (a, a, 0.0), (-a, a, 0.0)]
    exact = 1e-7 * 4.0 * math.sqrt(2.0) / a
    assert loop_flux(UP, (0.0, 0.0, 0.0), square) == pytest.approx(exact, rel=1e-12)
    assert loop_flux(UP, (0.0, 0.0, 0.0), square[::-1]) == pytest.approx(-exact, rel=1e-12)


@given(vectors, st.floats(-math.pi, math.pi))
def test_a_loop_of_any_shape_links_what_its_area_would(moment: Vector, turn: float) -> None:
    """Far off, the field through the vector area; corners in three dimensions."""
    corners: list[Vector] = [
        (0.0, 0.0, 0.0),
        (1e-4, 0.0, 2e-5),
        (1e-4, 1e-4, 0.0),
        (0.0, 2e-4, 0.0),
    ]
    x = y = z = 0.0
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        one = cross(a, b)
        x, y, z = x + 0.5 * one[0], y + 0.5 * one[1], z + 0.5 * one[2]
    at: Vector = (0.4 * math.cos(turn), 0.4 * math.sin(turn), 0.2)
    seen = field(moment, (5e-5 - at[0], 7e-5 - at[1], -at[2]))
    assert loop_flux(moment, at, corners) == pytest.approx(
        dot(seen, (x, y, z)), rel=2e-3, abs=2e-3 * 2e-7 * size((x, y, z)) * size(moment)
    )


def test_a_side_in_line_with_the_dipole_adds_nothing() -> None:
    """The wedge on the axis; a side a hair off it does not blow up, one through it is refused."""
    wedge: list[Vector] = [(0.0, 0.0, 0.1), (0.0, 0.0, 0.2), (0.1, 0.0, 0.2)]
    exact = loop_flux((0.0, 1.0, 0.0), (0.0, 0.0, 0.0), wedge)
    for hair in (1e-12, 1e-9, 1e-7):
        near: list[Vector] = [(hair, 0.0, 0.1), (hair, 0.0, 0.2), (0.1, 0.0, 0.2)]
        off = loop_flux((0.0, 1.0, 0.0), (0.0, 0.0, 0.0), near)
        assert off == pytest.approx(exact, rel=1e-5)
    with pytest.raises(ValueError, match="through the dipole"):
        loop_flux(UP, (0.0, 0.0, 0.0), [(0.0, -1.0, 0.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)])


@pytest.mark.parametrize(("apart", "within"), [(0.1, 2.5e-3), (0.3, 3e-4), (1.0, 3e-5)])
def test_two_parallel_coaxial_loops(apart: float, within: float) -> None:
    """Maxwell's mutual inductance of two circles, Treatise art. 701 (from memory).

    mu0 sqrt(a b) ((2/k - k) K - (2/k) E), k^2 = 4 a b / ((a + b)^2 + z^2).  A dipole in place of the
    smaller one is out by about (a/z)^2, and less as it goes away.
    """
    scipy = pytest.importorskip("scipy.special")
    small, large = 0.005, 0.05
    square = 4.0 * small * large / ((small + large) ** 2 + apart**2)
    k = math.sqrt(square)
    exact = (
        MU0
        * math.sqrt(small * large)
        * ((2.0 / k - k) * scipy.ellipk(square) - 2.0 / k * scipy.ellipe(square))
    )
    moment: Vector = (0.0, 0.0, math.pi * small**2)
    mutual = loop_flux(moment, (0.0, 0.0, 0.0), polygon(2000, large, apart))
    assert mutual == pytest.approx(exact, rel=within)
    # and as two dipoles, both small against their distance
    if apart >= 1.0:
        linked = coil_flux(moment, (0.0, 0.0, apart), UP, math.pi * large**2)
        assert linked == pytest.approx(exact, rel=5e-3)


def test_emf_is_faraday_s() -> None:
    """1 cm2 in 1 uT at 50 Hz: 31.4 nV."""
    assert emf(1e-4 * 1e-6, 50.0) == pytest.approx(31.4159e-9, rel=1e-5)
    assert emf(-1e-10, 50.0) == emf(1e-10, 50.0)


def test_a_straight_wire_through_a_rectangle() -> None:
    """mu0 I / (2 pi) ln(b / a) a metre, and with the return wire beside it (by hand)."""
    lone = pair_flux(2.0, ((0.0, 0.0), (1e12, 0.0)), ((0.01, 0.0), (0.04, 0.0)))
    assert lone == pytest.approx(2e-7 * 2.0 * math.log(4.0), rel=1e-9)
    pair = pair_flux(2.0, ((0.0, 0.0), (-0.002, 0.0)), ((0.01, 0.0), (0.04, 0.0)))
    assert pair == pytest.approx(4e-7 * (math.log(4.0) - math.log(42.0 / 12.0)), rel=1e-9)
    edge_on = pair_flux(2.0, ((0.0, 0.001), (0.0, -0.001)), ((0.01, 0.0), (0.04, 0.0)))
    assert edge_on == pytest.approx(0.0, abs=1e-20)


def test_the_same_flux_by_adding_up_the_field() -> None:
    """mu0 I / (2 pi r) of both wires over 20 000 strips of the rectangle."""
    wires, strips = ((0.0, 0.0), (0.0015, 0.001)), 20_000
    total = 0.0
    for k in range(strips):
        x = 0.01 + 0.03 * (k + 0.5) / strips
        for (wx, wy), amperes in zip(wires, (1.0, -1.0), strict=True):
            square = (x - wx) ** 2 + wy**2
            total += 2e-7 * amperes * (x - wx) / square * 0.03 / strips
    assert pair_flux(1.0, wires, ((0.01, 0.0), (0.04, 0.0))) == pytest.approx(total, rel=1e-6)


def test_wires_far_apart_have_the_logarithm() -> None:
    """pi epsilon0 / ln(2 D / d) for wires thin against their distance."""
    farads = wire_capacitance(1e-3, 0.1)
    assert farads == pytest.approx(math.pi * EPSILON0 / math.log(200.0), rel=1e-5)
    with pytest.raises(ValueError, match="apart"):
        wire_capacitance(1e-3, 1e-3)
