"""From bytes to a design: TOML, then the document's models, then its references."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from coldcheck.lint.design import Design
from coldcheck.lint.model import DocumentPath, Place
from coldcheck.lint.read.errors import InputError, Trouble
from coldcheck.lint.read.locate import locate, path_of
from coldcheck.lint.read.positions import Positions, Span
from coldcheck.lint.read.resolve import resolve
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


def load(raw: Mapping[str, Any], positions: Positions, file: str) -> Loaded:
    """Check a parsed document and resolve it; raises InputError with every trouble found."""
    try:
        document = Document.model_validate(raw)
    except ValidationError as wrong:
        raise InputError(*_troubles(wrong, raw, positions, file)) from None
    design, problems = resolve(document)
    if design is None or problems:
        spans = [
            (positions.nearest(p.path) if p.on_key else _value(positions, p.path), p)
            for p in problems
        ]
        raise InputError(
            *(
                Trouble(_place(file, span), p.found, p.expected, p.hint)
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
