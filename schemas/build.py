"""How it is built: the metal, where parts sit, what is soldered to what, what passes which hole."""

from typing import Annotated, Literal

from pydantic import Field

from coldcheck.schemas.fields import Celsius, Chapter, Coordinate, Label, Metres, Volts, WireArea

Face = Literal["top", "front", "rear", "left", "right", "bottom"]
Spot = Annotated[tuple[Coordinate, Coordinate], Field(strict=False)]


class Cover(Chapter):
    """Another piece of metal than the chassis itself, and how it is joined to it."""

    contact: Literal["screws on bare metal", "own wire", "none"]
    face: Face | None = None


class Chassis(Chapter):
    """Outside measures of the box, and the sheet it is folded from."""

    material: Literal["aluminium", "steel", "copper", "brass", "wood", "plastic"]
    sheet: Metres
    width: Metres
    depth: Metres
    height: Metres
    covers: dict[Label, Cover] = {}


class Seat(Chapter):
    """Where a part sits: millimetres from the left front corner of its face, seen from outside."""

    on: Face = "top"
    at: Spot
    turn: Annotated[float, Field(ge=-360, le=360)] = 0.0
    """Degrees, from the way of the first number of ``at`` towards that of the second: on the top
    anticlockwise as seen from above."""
    side: Literal["outside", "inside"] | None = None
    leads_through: Label | dict[Label, Label] | None = None
    """The hole its flying leads pass, or one hole per winding."""


class Grommet(Chapter):
    hole: Metres
    groove: Metres
    bore: Metres


class Hole(Chapter):
    on: Face = "top"
    at: Spot
    diameter: Metres
    purpose: Annotated[str, Field(max_length=80)] = ""
    grommet: Grommet | None = None
    bushing: Annotated[str, Field(max_length=80)] | None = None
    """A cord clamp or gland that lines the hole."""


class WireType(Chapter):
    size: WireArea
    style: Label | None = None
    """A listed style such as "UL1015", from which voltage, temperature and wall follow."""
    voltage: Volts | None = None
    temperature: Celsius | None = None
    diameter: Metres | None = None
    """Over the insulation."""
    bare: bool = False


class Wire(Chapter):
    """A wire from tie point to tie point; more than two points make a chain."""

    run: Annotated[list[Label], Field(min_length=2)]
    type: Label
    length: Metres | None = None
    colour: Annotated[str, Field(max_length=24)] = ""
    through: Label | list[Label] | None = None
    twist: Label | None = None
    """The wire it is twisted with."""
    shield: bool = False
    """It is the shield of a screened lead."""
