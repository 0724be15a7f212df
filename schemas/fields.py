"""Field types of the document: builder's notation in, SI floats out, with JSON Schema to match.

Modules with models do without ``from __future__ import annotations``: pydantic would compile every
annotation once more, from text, a hundredth of a review.
"""

import itertools
from collections.abc import Callable
from typing import Annotated, Any, Literal, NamedTuple, get_args

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
)
from pydantic_core import PydanticKnownError, core_schema

from coldcheck.schemas.quantity import parse, parse_gauge, parse_sections, parse_taps

BasisWord = Literal["data sheet", "measured", "assumed"]


REFERENCE = r"^[A-Za-z]{1,4}[0-9]{1,4}[A-Za-z]?$"
TWIN_REFERENCE = r"^[A-Za-z]{1,4}[0-9]{1,4}$"
LABEL = r"^\S(.*\S)?$"
WINDING = r"^[^\s.]([^.]*[^\s.])?$"
LETTER = r"^[A-Za-z]$"
TAP = r"^[0-9]{1,4}(\.[0-9]{1,3})?$"
PAIR = r"^[^-\s]+-[^-\s]+$"
SHAPES = {
    REFERENCE: "a reference: one to four letters and a number, such as R4 or TB2",
    TWIN_REFERENCE: "a reference without a letter at its end, such as R4: each channel adds its own",
    LABEL: "a name with no space at either end",
    WINDING: 'a name without a dot, such as "ht"',
    LETTER: 'a single letter, such as "L"',
    TAP: 'a load in ohms as text, such as "8"',
    PAIR: 'two terminals with a "-" between them, such as "1-2"',
}
"""What a text of each pattern looks like, in words."""

Label = Annotated[str, Field(min_length=1, max_length=40, pattern=LABEL)]


def different(
    given: list[str], expected: str, key: Callable[[str], str] = lambda text: text
) -> list[str]:
    """The list as it is; raises ValueError with what was expected when two entries are alike."""
    if len({key(entry) for entry in given}) < len(given):
        raise ValueError(expected)
    return given


class Chapter(BaseModel):
    """Base of every model: unknown keys are errors, numbers are never guessed from text."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        # one build of the whole document at its first use is cheaper than one for each model
        defer_build=True,
    )


class Later:
    """Marks a model, or a union of some told apart by ``kind``, to be made ready when first met.

    A document has one kind of part in two, and seldom a tube type of its own.
    """

    def __init__(self, kind: Any) -> None:
        self._kind = kind
        self._models: dict[str, type[BaseModel]] = {
            get_args(model.model_fields["kind"].annotation)[0]: model for model in get_args(kind)
        }

    def check(self, given: object) -> object:
        return self._model(given).model_validate(given)

    def _model(self, given: object) -> type[BaseModel]:
        """As pydantic picks one of a union, and with its errors."""
        if not self._models:
            model: type[BaseModel] = self._kind
            return model
        if not isinstance(given, dict):
            raise PydanticKnownError("model_attributes_type")
        if "kind" not in given:
            raise PydanticKnownError("union_tag_not_found", {"discriminator": "'kind'"})
        tag = given["kind"]
        if not isinstance(tag, str) or tag not in self._models:
            told = {
                "discriminator": "'kind'",
                "tag": str(tag),
                "expected_tags": ", ".join(self._models),
            }
            raise PydanticKnownError("union_tag_invalid", told)
        return self._models[tag]

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.check)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        from pydantic import TypeAdapter

        told_apart = Field(discriminator="kind" if self._models else None)
        whole: Any = Annotated[self._kind, told_apart]
        # wrapped, so that a model keeps its name among the definitions
        return handler(core_schema.definitions_schema(TypeAdapter(whole).core_schema, []))


class Written(NamedTuple):
    """A field written as text in builder's notation and held as a number, or several, in SI.

    ``read`` turns the text into the value and raises ValueError with a sentence for the builder.
    """

    read: Callable[[str], object]
    example: str
    bare_number: bool = False
    """Whether a TOML number is accepted too, as millimetres (places and sizes)."""

    def check(self, given: object) -> object:
        if self.bare_number and isinstance(given, int | float) and not isinstance(given, bool):
            return self.read(f"{given} mm")
        if not isinstance(given, str):
            number = "a number of millimetres, or " if self.bare_number else ""
            raise ValueError(f'{number}text with its unit, such as "{self.example}"')
        return self.read(given)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.check)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        kinds: str | list[str] = ["number", "string"] if self.bare_number else "string"
        return {"type": kinds, "maxLength": 64, "examples": [self.example]}


def quantity(unit: str, example: str, least: float | None = None) -> Written:
    """A number in ``unit``: more than zero, or at least ``least`` where that is given."""

    def read(text: str) -> float:
        number = parse(text, unit)
        if least is None and number <= 0:
            raise ValueError(f'more than zero, such as "{example}"')
        if least is not None and number < least:
            raise ValueError(f'at least {least:g} {unit}, such as "{example}"')
        return number

    return Written(read, example)


def sections(unit: str, example: str) -> Written:
    """One number per winding section, all of them more than zero."""

    def read(text: str) -> tuple[float, ...]:
        numbers = parse_sections(text, unit)
        if any(number <= 0 for number in numbers):
            raise ValueError(f'more than zero in every section, such as "{example}"')
        return numbers

    return Written(read, example)


class Nameplate(tuple[float, ...]):
    """Volts of each section of a winding, in order from one end, each more than zero.

    ``taps`` are the volts at its terminals, by piece of wire: ((-275.0, 0.0, 275.0),).
    """

    taps: tuple[tuple[float, ...], ...]

    def __new__(cls, taps: tuple[tuple[float, ...], ...]) -> "Nameplate":
        steps = (b - a for piece in taps for a, b in itertools.pairwise(piece))
        # 6.3 V less 5 V is 1.3 V, not one that differs from it in the sixteenth place
        made = super().__new__(cls, (round(step, 9) for step in steps))
        made.taps = taps
        return made

    @property
    def from_zero(self) -> float:
        """Most volts between a terminal and the common end, or the centre tap."""
        return max(abs(volts) for piece in self.taps for volts in piece)

    @property
    def terminals(self) -> tuple[tuple[str, ...], ...]:
        """Names of its terminals, by piece of wire.

        Of "6.3 V" 1 and 2; of "0-5-6.3 V" 0, 5 and 6.3; of "275-50-0-275 V" 1, 50a, ct and 2, with
        b for taps beyond the middle one; of "2 x 0-115 V" 0a, 115a, 0b and 115b.
        """
        if len(self.taps) > 1:
            return tuple(
                tuple(f"{volts:g}{letter}" for volts in piece)
                for letter, piece in zip("abcd", self.taps, strict=False)
            )
        (piece,) = self.taps
        if piece[0] == 0.0:
            return (("1", "2") if len(piece) == 2 else tuple(f"{volts:g}" for volts in piece),)
        inner = [
            "ct" if volts == 0.0 else f"{abs(volts):g}{'a' if volts < 0.0 else 'b'}"
            for volts in piece[1:-1]
        ]
        return (("1", *inner, "2"),)

    def __str__(self) -> str:
        """As a builder writes it."""
        piece = self.taps[0][1:] if len(self.taps[0]) == 2 else self.taps[0]
        once = f"{'-'.join(f'{abs(volts):g}' for volts in piece)} V"
        return once if len(self.taps) == 1 else f"{len(self.taps)} x {once}"


def _winding(text: str) -> "Nameplate":
    found = Nameplate(parse_taps(text))
    if 0.0 in found or (len(found) == 1 and found[0] < 0.0):
        raise ValueError('more than zero in every section, such as "275-0-275 V"')
    if any(volts < 0.0 for volts in found):
        raise ValueError('taps in order, further and further from 0, such as "0-115-230 V"')
    return found


def _coordinate(text: str) -> float:
    metres = parse(text, "m")
    if abs(metres) > 5.0:
        raise ValueError("at most 5 m from the corner (a number without a unit is millimetres)")
    return metres


def _measure(text: str) -> float:
    metres = parse(text, "m")
    if not 0.0 < metres <= 5.0:
        raise ValueError("more than zero and at most 5 m (a number without a unit is millimetres)")
    return metres


def _both(text: str) -> tuple[float, float]:
    amperes, at, volts = text.partition(" at ")
    if not at:
        raise ValueError('a current at a voltage, such as "0.4 A at 100 V"')
    found = parse(volts, "V"), parse(amperes, "A")
    if min(found) <= 0.0:
        raise ValueError('more than zero, such as "0.4 A at 100 V"')
    return found


def _stray(text: str) -> tuple[float, float]:
    field, at, distance = text.partition(" at ")
    if not at:
        raise ValueError('a field at a distance, such as "30 uT at 100 mm"')
    found = parse(field, "T"), parse(distance, "m")
    if found[0] <= 0.0:
        raise ValueError('more than zero, such as "30 uT at 100 mm"')
    if not 0.01 <= found[1] <= 2.0:
        raise ValueError("at a distance between 10 mm and 2 m from the middle of the part")
    return found


ANY = float("-inf")

Ohms = Annotated[float, quantity("ohm", "47k")]
Farads = Annotated[float, quantity("F", "0.1u")]
Siemens = Annotated[float, quantity("S", "1.6 mS")]
Henries = Annotated[float, quantity("H", "10 H")]
Volts = Annotated[float, quantity("V", "450 V")]
SignedVolts = Annotated[float, quantity("V", "-42 V", least=ANY)]
Amperes = Annotated[float, quantity("A", "90 mA")]
Watts = Annotated[float, quantity("W", "1/2 W")]
VoltAmperes = Annotated[float, quantity("VA", "60 VA")]
Hertz = Annotated[float, quantity("Hz", "50 Hz")]
Metres = Annotated[float, quantity("m", "120 mm")]
Celsius = Annotated[float, quantity("degC", "30 degC", least=-273.15)]
Percent = Annotated[float, quantity("%", "10 %", least=0.0)]
Decibels = Annotated[float, quantity("dB", "88 dB", least=ANY)]
VoltSections = Annotated[Nameplate, Written(_winding, "275-0-275 V")]
OhmSections = Annotated[tuple[float, ...], sections("ohm", "120+125")]
Joules = Annotated[float, quantity("J", "10 J")]
KelvinsPerWatt = Annotated[float, quantity("K/W", "12 K/W")]
SquaredAmpereSeconds = Annotated[float, quantity("A2s", "1.2 A2s")]
AmperesAtVolts = Annotated[tuple[float, float], Written(_both, "0.4 A at 100 V")]
"""Held as volts, amperes."""
TeslasAtMetres = Annotated[tuple[float, float], Written(_stray, "30 uT at 100 mm")]
Coordinate = Annotated[float, Written(_coordinate, "2.5 in", bare_number=True)]
Measure = Annotated[float, Written(_measure, "40 mm", bare_number=True)]
WireArea = Annotated[float, Written(lambda text: parse_gauge(text).area, "18 AWG")]
