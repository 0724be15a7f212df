"""From bytes to a design: TOML, then the document's models, then its references."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from coldcheck.lint.design import Design
from coldcheck.lint.model import DocumentPath, Place
from coldcheck.lint.read.errors import InputError, Trouble
from coldcheck.lint.read.locate import locate, path_of
from coldcheck.lint.read.positions import Positions, Span
from coldcheck.lint.read.problems import Problem
from coldcheck.lint.read.resolve import resolve
from coldcheck.lint.read.tube_types import TubeTypes
from coldcheck.lint.read.wording import of_type, said
from coldcheck.schemas.document import Document


class Loaded(NamedTuple):
    """A design and the way back from its paths to lines of its file."""

    design: Design
    file: str
    positions: Positions

    def place(self, path: DocumentPath) -> Place | None:
        """Where a path, or its nearest parent that is written, stands in the file."""
        return _place(self.file, self.positions.nearest(path)) if path else None


def load(
    raw: Mapping[str, Any], positions: Positions, file: str, types: TubeTypes | None = None
) -> Loaded:
    """Check a parsed document and resolve it; raises InputError with every trouble found.

    types: the tube types there are beside the document's own; the shipped ones when not given.
    """
    try:
        document = Document.model_validate(raw)
    except ValidationError as wrong:
        raise InputError(*troubles(wrong, raw, positions, file)) from None
    design, problems = resolve(document, types or TubeTypes())
    if design is None or problems:
        raise InputError(*placed(problems, positions, file))
    return Loaded(design, file, positions)


def placed(problems: Sequence[Problem], positions: Positions, file: str) -> list[Trouble]:
    """Problems of a resolved document as troubles, in file order."""
    spans = [
        (positions.nearest(p.path) if p.on_key else _value(positions, p.path), p) for p in problems
    ]
    return [
        Trouble(_place(file, span), p.found, p.expected, p.hint)
        for span, p in sorted(spans, key=lambda pair: (pair[0].line, pair[0].column))
    ]


def _value(positions: Positions, path: DocumentPath) -> Span:
    return positions.value(path) or positions.nearest(path)


def _place(file: str, span: Span) -> Place:
    return Place(file, span.line, span.column, span.end_line, span.end_column)


def troubles(
    wrong: ValidationError, raw: Mapping[str, Any], positions: Positions, file: str
) -> list[Trouble]:
    """One trouble for each place; a field that may be several things is reported once."""
    found: dict[DocumentPath, tuple[Span, ErrorDetails]] = {}
    for error in wrong.errors(include_url=False):
        path, span = _where(error, raw, positions)
        known = found.get(path)
        if known is None or (of_type(known[1]) and not of_type(error)):
            found[path] = (span, error)
    # a fault within one form of a field makes the other forms complain of the whole
    whole = {path[:length] for path in found for length in range(1, len(path))}
    ordered = sorted(
        ((span, path, error) for path, (span, error) in found.items() if path not in whole),
        key=lambda item: (item[0].line, item[0].column),
    )
    return [Trouble(_place(file, span), *said(error, path, raw)) for span, path, error in ordered]


def _where(
    error: ErrorDetails, raw: Mapping[str, Any], positions: Positions
) -> tuple[DocumentPath, Span]:
    """The path an error is about, and the text to point at."""
    location, kind = error["loc"], error["type"]
    path = path_of(location, raw)
    if kind == "missing":
        if isinstance(location[-1], int):  # a list of lengths that is too short
            return path, _value(positions, path)
        path = (*path, str(location[-1]))
    elif kind == "union_tag_invalid":
        return path, _value(positions, (*path, "kind"))
    elif kind == "union_tag_not_found" and isinstance(error["input"], dict):
        return path, positions.nearest(path)
    return path, locate(location, raw, positions, kind)
