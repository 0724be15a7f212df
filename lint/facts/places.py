"""Where things are, in metres: x to the right, y to the rear, z up from the underside."""

from __future__ import annotations

import math

from coldcheck.lint.design import Design
from coldcheck.schemas.build import Face
from coldcheck.schemas.parts import GroundBus

Point3 = tuple[float, float, float]


def on_face(design: Design, face: Face, along: float, up: float) -> Point3 | None:
    """A spot on a face of the chassis: metres from the face's left corner, seen from outside.

    Top and bottom are both measured from the left front corner as seen from above; for the
    others the second number is the height.  None when the document has no chassis.
    """
    box = design.chassis
    if box is None:
        return None
    places: dict[Face, Point3] = {
        "top": (along, up, box.height),
        "bottom": (along, up, 0.0),
        "front": (along, 0.0, up),
        "rear": (along, box.depth, up),
        "left": (0.0, along, up),
        "right": (box.width, along, up),
    }
    return places[face]


def place_of(design: Design, tie_point: str) -> Point3 | None:
    """Where a tie point is: the place of its part; for a bus, the point along it.

    A bus runs to the right of its place when ``turn`` is 0, to the rear when it is 90.
    """
    ref, _dot, point = tie_point.partition(".")
    part = design.parts.get(ref)
    if part is None or part.seat is None:
        return None
    seat = part.seat
    along, up = seat.at
    if isinstance(part.spec, GroundBus) and part.spec.pitch is not None and point.isdigit():
        step = (int(point) - 1) * part.spec.pitch
        along += step * math.cos(math.radians(seat.turn))
        up += step * math.sin(math.radians(seat.turn))
    return on_face(design, seat.on, along, up)
