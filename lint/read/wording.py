"""What a validation error says to a builder: what was found, what was expected, and a hint.

The words come from the document's own models, never from the validator's messages, which speak
of tuples and dictionaries.
"""

from __future__ import annotations

import datetime
import types
import typing
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from coldcheck.lint.model import DocumentPath
from coldcheck.lint.read.spelling import nearest
from coldcheck.schemas.document import Document
from coldcheck.schemas.fields import SHAPES, Written
from coldcheck.schemas.quantity import QuantityError

Said = tuple[str, str, str]
"""Found, expected, hint."""

# Errors that a value is of the wrong type altogether, in pydantic's vocabulary; of a field that
# may be several things, each of them reports one.
_OF_TYPE = ("_type", "_from_float", "_attributes", "date_parsing", "date_from_datetime_inexact")
_SIMPLE = {
    str: "text in quotes",
    bool: "true or false, without quotes",
    int: "a whole number, without quotes",
    float: "a number, without quotes",
    datetime.date: "a date without quotes, such as 2026-11-25",
}
_NAMES = "a name, a list of names in terminal order, or a table of names by terminal"
_LENGTHS = "[62, 40, 25]"


def of_type(error: ErrorDetails) -> bool:
    """Whether an error only says that the value is of another type than one that would do."""
    kind = error["type"]
    if kind == "literal_error":
        return not isinstance(error["input"], str)
    return kind.endswith(_OF_TYPE)


def said(error: ErrorDetails, path: DocumentPath, raw: Any) -> Said:
    """The words for an error at a path of the parsed document ``raw``."""
    kind, given, context = error["type"], error["input"], error.get("ctx", {})
    if kind == "missing":
        last = str(path[-1])
        if isinstance(error["loc"][-1], int):  # a list of lengths that is too short
            return f"{_name(path)} = {shown(given)}", _accepts(_annotation(path, raw)), ""
        what = f"{_name(path[:-1])} without" if len(path) > 1 else "no"
        return f'{what} "{last}"', f"it to be given{_example(path, raw)}", ""
    if kind == "extra_forbidden":
        known = sorted(_keys(path[:-1], raw))
        return f'unknown key "{path[-1]}"', f"one of {', '.join(known)}", _hint(path[-1], known)
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        return _wrong_kind(given, path, raw)
    if error["loc"] and error["loc"][-1] == "[key]":
        chapter = nearest(str(path[-1]), Document.model_fields)
        hint = f"did you mean the table [{chapter}]?" if chapter else ""
        return f"the name {shown(path[-1])}", _text(kind, context), hint
    found = f"{_name(path)} = {shown(given)}" if path else "the document"
    if kind == "literal_error" and isinstance(given, str):
        options = _accepts(_annotation(path, raw))
        near = _hint(given, [option for option in options.split('"') if option.strip(", or")])
        return found, options, near
    if kind == "value_error":
        fault = context.get("error")
        if isinstance(fault, QuantityError):
            return f"{_name(path)} = {shown(fault.found)}", fault.expected, ""
        return found, str(fault), ""
    if of_type(error) or context.get("field_type") == "Tuple":
        return found, _accepts(_annotation(path, raw)), ""
    return found, _text(kind, context), ""


def _wrong_kind(given: Any, path: DocumentPath, raw: Any) -> Said:
    kinds = [str(_kind(model)) for model in _options(_annotation(path, raw))]
    if not isinstance(given, dict) or "kind" not in given:
        return f'{_name(path)} without "kind"', f"kind = one of {', '.join(kinds)}", ""
    kind = given["kind"]
    near = _hint(kind, kinds) if isinstance(kind, str) else ""
    return f"kind = {shown(kind)}", f"one of {', '.join(kinds)}", near


def _text(kind: str, context: dict[str, Any]) -> str:
    """What was expected of a value of the right type that is too long, too small, misshapen."""
    many = "characters" if kind.startswith("string") else "entries"
    few = "character" if kind.startswith("string") else "entry"
    if kind in ("string_too_short", "too_short"):
        least = context["min_length"]
        return f"at least {least} {few if least == 1 else many}"
    if kind in ("string_too_long", "too_long"):
        return f"at most {context['max_length']} {many}"
    if kind == "string_pattern_mismatch":
        return SHAPES[context["pattern"]]
    if kind == "greater_than_equal":
        return f"{context['ge']:g} or more"
    if kind == "less_than_equal":
        return f"{context['le']:g} or less"
    return "a finite number"


def _name(path: DocumentPath) -> str:
    """A path's last step as a reader would name it; entries of lists count from 1."""
    if not path:
        return "the document"
    if isinstance(path[-1], int):
        return f"entry {path[-1] + 1} of {_name(path[:-1])}"
    return path[-1]


def _hint(word: object, known: list[str]) -> str:
    near = nearest(str(word), known)
    return f'did you mean "{near}"?' if near and near != word else ""


def shown(given: object) -> str:
    """A value of the document in a message."""
    if isinstance(given, str):
        return f'"{given}"' if len(given) <= 48 else f'"{given[:45]}..."'
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, dict):
        return "a table" if given else "an empty table"
    if isinstance(given, list):
        return f"a list of {len(given)}" if given else "an empty list"
    text = str(given)
    return text if len(text) <= 48 else f"{text[:45]}..."


# -- what the models say --------------------------------------------------------------------------


def _options(kind: Any) -> Iterator[Any]:
    """The types an annotation allows, with unions opened, None and constraints left out."""
    while typing.get_origin(kind) is typing.Annotated:
        kind = typing.get_args(kind)[0]
    if typing.get_origin(kind) in (typing.Union, types.UnionType):
        for member in typing.get_args(kind):
            yield from _options(member)
    elif kind is not types.NoneType and kind is not None:
        yield kind


def _annotation(path: DocumentPath, raw: Any) -> Any:
    """What the models allow at a path of the document; None where they know nothing."""
    kind: Any = Document
    for step in path:
        kind = _inside(kind, step, raw)
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            raw = None
    return kind


def _inside(kind: Any, step: str | int, here: Any) -> Any:
    for option in _options(kind):
        origin, arguments = typing.get_origin(option), typing.get_args(option)
        if _is_model(option):
            tag = _kind(option)
            if tag is None or not isinstance(here, dict) or here.get("kind") == tag:
                field = option.model_fields.get(str(step))
                if field is not None:
                    return field.annotation
        elif origin is dict and isinstance(here, dict):
            return arguments[1]
        elif origin is list and isinstance(here, list):
            return arguments[0]
        elif origin is tuple and isinstance(step, int):
            return arguments[min(step, len(arguments) - 1)]
    return None


def _keys(path: DocumentPath, raw: Any) -> Iterator[str]:
    here = raw
    for step in path:
        here = here[step]
    for option in _options(_annotation(path, raw)):
        if _is_model(option) and _kind(option) in (None, here.get("kind")):
            yield from option.model_fields


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _kind(model: Any) -> str | None:
    """The kind of part a model is of; None for every other model."""
    field = model.model_fields.get("kind")
    return None if field is None else str(typing.get_args(field.annotation)[0])


def _accepts(kind: Any) -> str:
    """What an annotation takes, in words."""
    options = list(_options(kind))
    origins = [typing.get_origin(option) or option for option in options]
    if {str, list, dict} <= set(origins):
        return _NAMES
    words: list[str] = []
    for option, origin in zip(options, origins, strict=True):
        if _is_model(option):
            word = 'a table, such as { kind = "resistor", value = "47k" }'
            if _kind(option) is None:
                needed = [n for n, field in option.model_fields.items() if field.is_required()]
                word = f"a table with {', '.join(needed or option.model_fields)}"
        elif origin is typing.Literal:
            choices = [shown(choice) for choice in typing.get_args(option)]
            word = " or ".join([", ".join(choices[:-1]), choices[-1]] if choices[1:] else choices)
        elif origin is tuple:
            count = len(typing.get_args(option))
            word = f"a list of {count} lengths, such as {_LENGTHS[: 4 * count - 1]}]"
        else:
            word = {list: "a list in [ ]", dict: "a table in { }"}.get(origin) or _SIMPLE[origin]
        if word not in words:
            words.append(word)
    return ", or ".join(words)


def _example(path: DocumentPath, raw: Any) -> str:
    """How a key that is not there would be written, after a comma; "" where it goes unsaid."""
    for option in _options(_annotation(path[:-1], raw)):
        field = option.model_fields.get(str(path[-1])) if _is_model(option) else None
        if field is None:
            continue
        for mark in field.metadata:
            if isinstance(mark, Written):
                return f', such as {path[-1]} = "{mark.example}"'
        if typing.get_origin(field.annotation) is typing.Literal:
            return f": {_accepts(field.annotation)}"
    return ""
