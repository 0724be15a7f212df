"""pydantic's error locations lead to the key, value or header that caused them."""

from __future__ import annotations

from typing import Annotated, Any, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from coldcheck.lint.read.locate import locate, path_of
from coldcheck.lint.read.toml import read_text


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class _Resistor(_Strict):
    kind: Literal["resistor"]
    value: float


class _Tube(_Strict):
    kind: Literal["tube"]
    type_name: str = Field(alias="type")
    pins: dict[int, str] = {}

    @field_validator("pins", mode="before")
    @classmethod
    def _pins(cls, given: Any) -> Any:
        return {int(k) if str(k).isdigit() else k: v for k, v in given.items()}


class _Hole(_Strict):
    diameter: float

    @model_validator(mode="after")
    def _sane(self) -> _Hole:
        if self.diameter > 100:
            raise ValueError("too wide")
        return self


class _Document(_Strict):
    format: Literal[1]
    parts: dict[
        Annotated[str, Field(pattern="^[A-Z]")],
        Annotated[_Resistor | _Tube, Field(discriminator="kind")],
    ]
    holes: list[_Hole] = []
    at: list[float] = []


TEXT = """\
format = 1
[parts]
R1 = { kind = "resistor", value = 4.7 }
V1 = { kind = "tube", type = "12AX7", pins = { 1 = "p", 2 = "g" } }
[[holes]]
diameter = 19.0
[[holes]]
diameter = 6.5
"""

CASES = [
    ("format = 1", "format = 2", "2"),
    ("format = 1\n", "", "first line"),
    ("value = 4.7", 'value = "4k7"', '"4k7"'),
    (", value = 4.7", "", "R1"),
    ("value = 4.7", "value = 4.7, valu = 1", "valu"),
    ('kind = "resistor"', 'kind = "lamp"', '{ kind = "lamp", value = 4.7 }'),
    ('kind = "resistor", ', "", "{ value = 4.7 }"),
    ("R1 =", "r1 =", "r1"),
    ('type = "12AX7"', "type = 12", "12"),
    ('type = "12AX7", ', "", "V1"),
    ('2 = "g"', "2 = 7", "7"),
    ('2 = "g"', 'x = "g"', "x"),
    ("diameter = 6.5", "diameter = true", "true"),
    ("diameter = 6.5", "width = 6.5", "[[holes]]"),
    ("diameter = 6.5", "diameter = 650.0", "[[holes]]"),
    ("format = 1", "format = 1\nat = 7", "7"),
    ("format = 1", 'format = 1\nat = [1.0, "x"]', '"x"'),
    ("[parts]", "extra = 1\n[parts]", "extra"),
]


@pytest.mark.parametrize(("old", "new", "shown"), CASES)
def test_errors_point_at_what_caused_them(old: str, new: str, shown: str) -> None:
    assert TEXT.count(old) == 1
    text = TEXT.replace(old, new)
    raw, positions = read_text(text.encode(), "amp.toml")
    with pytest.raises(ValidationError) as caught:
        _Document.model_validate(raw)
    error = caught.value.errors()[0]
    span = locate(error["loc"], raw, positions, error["type"])
    start = positions.offset(span.line, span.column)
    end = positions.offset(span.end_line, span.end_column)
    assert text[start:end] == (text.splitlines()[0] if shown == "first line" else shown)


def test_steps_that_are_not_in_the_document_are_skipped() -> None:
    raw = {"parts": [{"k": 1}, {"k2": {"ref": "R1", "1": "p"}}]}
    loc = ("parts", 1, "resistor", "function-after[check(), _Hole]", "k2", "ref")
    assert path_of(loc, raw) == ("parts", 1, "k2", "ref")
    assert path_of(("parts", 1, "k2", 1), raw) == ("parts", 1, "k2", "1")
    assert path_of(("parts", 7, "x"), raw) == ("parts",)
    assert path_of((), raw) == ()
