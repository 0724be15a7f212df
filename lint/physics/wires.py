"""Straight wires side by side: the capacitance and the flux that couple them.

Wires are taken as long against their distance, and in free air: a chassis close by takes a part of
both.  Places are two coordinates in the plane that the wires stand upright on.
"""

from __future__ import annotations

import math

from coldcheck.lint.physics.magnetics import MU0

EPSILON0 = 8.8541878128e-12
"""Electric constant in F/m (CODATA 2018)."""

Spot = tuple[float, float]


def wire_capacitance(diameter: float, spacing: float) -> float:
    """Farads per metre between two round wires: pi epsilon0 / arcosh(D / d).

    diameter: of the copper of each, spacing: between their centres, in metres.  W. R. Smythe, Static
    and Dynamic Electricity, 3rd ed., sec. 4.14 (from memory).  Raises ValueError for wires that
    touch.
    """
    if spacing <= diameter:
        raise ValueError("wires further apart than they are thick")
    return math.pi * EPSILON0 / math.acosh(spacing / diameter)


def pair_flux(amperes: float, wires: tuple[Spot, Spot], sides: tuple[Spot, Spot]) -> float:
    """Webers per metre that a current, there in one wire and back in the other, sends through a
    rectangle along them whose long sides are at ``sides``.

    mu0 I / (2 pi) ln(r2 / r1) of each wire, r1 and r2 its distances to the two sides: the flux of a
    straight wire (any textbook, as Jackson, sec. 5.1).

    >>> round(pair_flux(1.0, ((0.0, 0.0), (1e9, 0.0)), ((1.0, 0.0), (math.e, 0.0))) * 1e9, 6)
    200.0
    """
    (out, back), (one, other) = wires, sides
    ratio = math.dist(out, other) * math.dist(back, one)
    ratio /= math.dist(out, one) * math.dist(back, other)
    return MU0 * amperes / (2.0 * math.pi) * math.log(ratio)
