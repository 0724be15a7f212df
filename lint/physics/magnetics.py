"""Stray magnetic fields: a transformer seen from outside is a point dipole, as is anything far off.

All fields are in free air.  Moments are in A m2, fields in tesla, lengths in metres, all rms where
the current is; a vector is its three components.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Vector = tuple[float, float, float]

MU0 = 4e-7 * math.pi
"""Magnetic constant in H/m; the CODATA 2018 value is larger by 5.5 parts in 1e10."""


def field(moment: Vector, offset: Vector) -> Vector:
    """Flux density at ``offset`` from a point dipole: mu0 / (4 pi r^3) (3 (m r^) r^ - m).

    J. D. Jackson, Classical Electrodynamics, 3rd ed., eq. 5.56 (from memory).  Raises ValueError at
    the dipole itself, where a point is no model of anything.

    >>> field((0.0, 0.0, 1.0), (0.0, 0.0, 0.1))[2]  # on the axis: mu0 m / (2 pi r^3)
    0.0002
    """
    square = dot(offset, offset)
    if square == 0.0:
        raise ValueError("the field of a point dipole at its own place")
    scale = MU0 / (4.0 * math.pi) / square**1.5
    along = 3.0 * dot(moment, offset) / square
    x, y, z = (scale * (along * r - m) for m, r in zip(moment, offset, strict=True))
    return x, y, z


def moment_of(tesla: float, metres: float) -> float:
    """The moment whose field is ``tesla`` on its axis at a distance, in A m2."""
    return 2.0 * math.pi * tesla * metres**3 / MU0


def coil_flux(moment: Vector, offset: Vector, axis: Vector, area_turns: float) -> float:
    """Flux linked by a small coil at ``offset`` from a dipole, in webers.

    axis: a unit vector; area_turns: turns times area, in m2, with what its iron gathers.
    """
    return area_turns * dot(field(moment, offset), axis)


def loop_flux(moment: Vector, at: Vector, corners: Sequence[Vector]) -> float:
    """Flux of a dipole at ``at`` through the closed polygon ``corners``, flat or not, in webers.

    The line integral of its vector potential mu0 / (4 pi) m x r / r^3 round it (Stokes).  Along a
    straight side (m x r) dl does not change, so each side has a closed form and no error of a
    quadrature.  Positive where the corners run anticlockwise as seen against the flux.  Raises
    ValueError for a side that runs through the dipole.
    """
    total = 0.0
    for a, b in zip(corners, [*corners[1:], *corners[:1]], strict=True):
        total += _side(moment, minus(a, at), minus(b, at))
    return MU0 / (4.0 * math.pi) * total


def emf(flux: float, hertz: float) -> float:
    """Volts rms round a turn that links ``flux`` webers rms: 2 pi f flux, without its sign."""
    return 2.0 * math.pi * hertz * abs(flux)


def dot(a: Vector, b: Vector) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def minus(a: Vector, b: Vector) -> Vector:
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def size(a: Vector) -> float:
    return math.sqrt(dot(a, a))


def _side(moment: Vector, a: Vector, b: Vector) -> float:
    """Integral of (m x r) dl / r^3 from a to b, both seen from the dipole."""
    way = minus(b, a)
    length = size(way)
    if length == 0.0:
        return 0.0
    u = (way[0] / length, way[1] / length, way[2] / length)
    start, end, near, far = dot(a, u), dot(b, u), size(a), size(b)
    clear = cross(a, u)
    square = dot(clear, clear)  # of the distance from the dipole to the line
    if near == 0.0 or far == 0.0 or (square == 0.0 and start * end < 0.0):
        raise ValueError("a side of the loop runs through the dipole")
    if start * end > 0.0:
        # the same as below, its difference of nearly equal numbers multiplied out
        whole = (end**2 - start**2) / (near * far * (end * near + start * far))
    else:
        whole = (end / far - start / near) / square
    return dot(cross(moment, a), u) * whole
