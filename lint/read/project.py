"""From bytes to a design: TOML, then the document's models, then its references."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from coldcheck.lint.design import Design
from coldcheck.lint.model import DocumentPath, Place
from coldcheck.lint.read.errors import InputError, Trouble
from coldcheck.lint.read.locate import locate, path_of
from coldcheck.lint.read.positions import Positions, Span
from coldcheck.lint.read.resolve import resolve
from coldcheck.lint.read.spelling import nearest
from coldcheck.schemas.document import Document
from coldcheck.schemas.quantity import QuantityError


@dataclass(frozen=True, slots=True)
class Loaded:
    """A design and the way back from its paths to lines of its file."""

    design: Design
    file: str
    positions: Positions

    def place(self, path: DocumentPath) -> Place | None:
        """Where a path, or its nearest parent that is written, stands in the file."""
        return _place(self.file, self.positions.nearest(path)) if path else None


def load(raw: Mapping[str, Any], positions: Positions, file: str) -> Loaded:
    """Check a parsed document and resolve it; raises InputError with every trouble found."""
    try:
        document = Document.model_validate(raw)
    except ValidationError as wrong:
        raise InputError(*_troubles(wrong, raw, positions, file)) from None
    design, problems = resolve(document, raw)
    if design is None or problems:
        spans = [
            (positions.nearest(p.path) if p.on_key else _value(positions, p.path), p)
            for p in problems
        ]
        raise InputError(
            *(
                Trouble(_place(file, span), p.found, p.expected)
                for span, p in sorted(spans, key=lambda pair: (pair[0].line, pair[0].column))
            )
        )
    return Loaded(design, file, positions)


def _value(positions: Positions, path: DocumentPath) -> Span:
    return positions.value(path) or positions.nearest(path)


def _place(file: str, span: Span) -> Place:
    return Place(file, span.line, span.column, span.end_line, span.end_column)


def _troubles(
    wrong: ValidationError, raw: Mapping[str, Any], positions: Positions, file: str
) -> list[Trouble]:
    """One trouble for each place; a field that may be several things is reported once."""
    first: dict[DocumentPath, tuple[Span, ErrorDetails]] = {}
    for error in wrong.errors(include_url=False):
        path = path_of(error["loc"], raw)
        if error["type"] == "missing":
            path = (*path, str(error["loc"][-1]))
        span = locate(error["loc"], raw, positions, error["type"])
        first.setdefault(path, (span, error))
    ordered = sorted(first.items(), key=lambda item: (item[1][0].line, item[1][0].column))
    return [Trouble(_place(file, span), *_said(error, path)) for path, (span, error) in ordered]


def _said(error: ErrorDetails, path: DocumentPath) -> tuple[str, str, str]:
    """What was found, what was expected, and a hint, in a builder's words."""
    kind, given, context = error["type"], error["input"], error.get("ctx", {})
    last = str(error["loc"][-1])
    if kind == "missing":
        return f'no "{last}"', f'"{last}" to be given here', ""
    if kind == "extra_forbidden":
        known = _keys_at(error["loc"][:-1])
        near = nearest(last, known)
        hint = f'did you mean "{near}"?' if near else ""
        return f'unknown key "{last}"', "one of " + ", ".join(known), hint
    if kind == "union_tag_invalid":
        tags = [tag.strip().strip("'") for tag in str(context["expected_tags"]).split(",")]
        near = nearest(str(context["tag"]), tags)
        hint = f'did you mean "{near}"?' if near else ""
        return f'kind = "{context["tag"]}"', "one of " + ", ".join(tags), hint
    if kind == "union_tag_not_found":
        return "a part without a kind", 'kind = "resistor", "capacitor", "tube", ...', ""
    if len(path) >= 2 and path[-2] in ("schematic", "leads") or "leads" in path[:2]:
        names = "a name, a list of names in terminal order, or a table of names by terminal"
        return _shown(given), names, ""
    if kind == "value_error":
        fault = context.get("error")
        if isinstance(fault, QuantityError):
            return f'{path[-1]} = "{fault.found}"', fault.expected, ""
        return f"{path[-1] if path else 'document'} = {_shown(given)}", str(fault), ""
    if kind == "literal_error":
        options = str(context["expected"]).replace("'", '"')
        near = nearest(
            str(given), [o.strip('" ') for o in options.replace(" or ", ", ").split(",")]
        )
        hint = f'did you mean "{near}"?' if near and near != str(given) else ""
        return f"{path[-1]} = {_shown(given)}", options, hint
    message = error["msg"].removeprefix("Input should be ").removeprefix("Value should ")
    name = f"{path[-1]} = " if path and last != "[key]" else "the name "
    return f"{name}{_shown(given)}", message[:1].lower() + message[1:], ""


def _shown(given: object) -> str:
    if isinstance(given, str):
        return f'"{given}"' if len(given) <= 48 else f'"{given[:45]}..."'
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, dict):
        return "a table"
    if isinstance(given, list):
        return f"a list of {len(given)}"
    try:
        text = str(given)
    except ValueError:  # an integer of more digits than Python will print
        text = "a very large number"
    return text if len(text) <= 48 else f"{text[:45]}..."


def _keys_at(location: tuple[str | int, ...]) -> list[str]:
    """The keys the model at a pydantic location knows, sorted."""
    here: Any = Document
    for step in location:
        here = _inside(here, step)
    return sorted(here.model_fields) if _is_model(here) else []


def _is_model(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _inside(kind: Any, step: str | int) -> Any:
    """The annotation one step further in: a field, a member of a union by its tag, an item."""
    while typing.get_origin(kind) is typing.Annotated:
        kind = typing.get_args(kind)[0]
    if _is_model(kind):
        field = kind.model_fields.get(str(step))
        return field.annotation if field is not None else None
    if typing.get_origin(kind) in (typing.Union, types.UnionType):
        for member in typing.get_args(kind):
            tag = getattr(member, "model_fields", {}).get("kind")
            if tag is not None and step in typing.get_args(tag.annotation):
                return member
            if member is not type(None) and typing.get_origin(member) is dict:
                return _inside(member, step)
        models = [m for m in typing.get_args(kind) if _is_model(m)]
        return _inside(models[0], step) if len(models) == 1 else None
    arguments = typing.get_args(kind)
    return arguments[-1] if arguments else None
