"""A TOML file to plain values and their positions; anything unreadable becomes an InputError."""

from __future__ import annotations

import re
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Never

import tomli

from coldcheck.lint.model import DocumentPath, Place
from coldcheck.lint.read.errors import InputError, Trouble
from coldcheck.lint.read.positions import DEEPEST, Positions, Span, Statement, TooDeep, scan

LARGEST = 1_000_000
"""Bytes.  A complete stereo amplifier takes about 20 kB, so a megabyte is fifty of them; beyond
it lies a wrong file or an attack, and reading ten would already cost seconds."""

_DOCUMENT = "a project document in TOML"
_SAVE_AS_UTF8 = "save it as UTF-8 text"
_QUOTE_IT = 'text stands in quotes, such as value = "47k"'
_VALUE = "a value: text in quotes, a number, true, false, [ ... ] or { ... }"
_KEY = "a key: letters, digits, _ and -, or any text in quotes"

# The parser's messages, by their first words: what to write instead, and a hint.
_EXPECTED: tuple[tuple[str, str, str], ...] = (
    ("Expected newline", "the end of the line after a value", _QUOTE_IT),
    ("Invalid value", _VALUE, _QUOTE_IT),
    ("Expected '='", 'a "=" after the key', "a key with a space in it stands in quotes"),
    ("Unclosed array", 'a comma or "]"', ""),
    ("Unclosed inline table", 'a comma or "}"', ""),
    ("Unterminated string", "a closing quote", ""),
    ("Expected '\"'", "a closing quote", ""),
    ('Expected "\'"', "a closing quote", ""),
    ("Expected ']", '"]" at the end of the table header', ""),
    ("Invalid initial character for a key", _KEY, ""),
    ("Invalid statement", "a line such as key = value, or a [table] header", ""),
    ("Unescaped", "a known escape, or two backslashes for one", "or put the text in '...'"),
    ("Illegal character", "text without control characters", ""),
    ("Found invalid character", "text without control characters", ""),
    ("Invalid date", "a date such as 2026-11-25", ""),
    ("Invalid hex", "a character code in hexadecimal", ""),
    ("Escaped character", "the code of a character", ""),
)
_WRITTEN_TWICE = ("Cannot ", "Duplicate ")
_WORD = re.compile(r"[A-Za-z0-9_.+\-/%]*+")


def read_file(path: str | Path, what: str = _DOCUMENT) -> tuple[dict[str, Any], Positions]:
    """Read one document from a file of at most LARGEST bytes; ``what`` is what it should be.

    Raises InputError when it cannot be opened, is too large, or is not TOML.
    """
    name = str(path)
    try:
        status = Path(path).stat()
        if stat.S_ISDIR(status.st_mode):
            _refuse(name, "a folder", f"the name of a file with {what}")
        if status.st_size > LARGEST:
            _refuse_size(name, f"{status.st_size} bytes", what)
        with open(path, "rb") as file:
            # A pipe has no size and a file may grow: never read past the limit.
            data = file.read(LARGEST + 1)
    except FileNotFoundError:
        _refuse(name, "no such file", f"the name of a file with {what}")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        _refuse(name, f"a file that cannot be read: {reason.lower()}", what)
    if len(data) > LARGEST:
        _refuse_size(name, f"more than {LARGEST} bytes", what)
    return read_text(data, name, what)


def read_text(data: bytes, name: str, what: str = _DOCUMENT) -> tuple[dict[str, Any], Positions]:
    """Read one document from its bytes; ``name`` is what messages call the file.

    Raises InputError.
    """
    if len(data) > LARGEST:
        _refuse_size(name, f"{len(data)} bytes", what)
    text = _decoded(data, name, what)
    try:
        positions = scan(text)
    except TooDeep as error:
        place = _place(name, Positions(text).span(error.offset, error.offset + 1))
        raise InputError(Trouble(place, f"tables nested more than {DEEPEST} deep", what)) from None
    try:
        raw = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        raise InputError(_syntax_trouble(error, positions, name)) from None
    except RecursionError:
        _refuse(name, "tables nested too deep to read", what)
    except ValueError:
        raise InputError(_long_number(positions, name)) from None
    if not raw and what == _DOCUMENT:
        found = "an empty file" if not text.strip() else "no keys"
        _refuse(name, found, f"{_DOCUMENT}, with at least format, [project] and [parts]")
    beyond = tuple(
        Trouble(
            _place(name, positions.value(path) or positions.nearest(path)),
            "a number beyond 64 bits",
            "a number of at most 18 digits",
        )
        for path in _huge_integers(raw)
    )
    if beyond:
        raise InputError(*beyond)
    return raw, positions


def _place(name: str, span: Span) -> Place:
    return Place(name, *span)


def _refuse(name: str, found: str, expected: str, hint: str = "") -> Never:
    raise InputError(Trouble(Place(name, 1, 1, 1, 1), found, expected, hint))


def _refuse_size(name: str, found: str, what: str) -> Never:
    _refuse(name, found, f"{what.removesuffix(' in TOML')} of at most {LARGEST} bytes")


def _decoded(data: bytes, name: str, what: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        _refuse(name, "UTF-16 text", f"{what}, in UTF-8", _SAVE_AS_UTF8)
    try:
        # Not "utf-8": some editors put a byte order mark first.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8-sig")
        place = _place(name, Positions(before).span(len(before), len(before)))
        raise InputError(
            Trouble(place, f"byte 0x{data[error.start]:02x}", "text in UTF-8", _SAVE_AS_UTF8)
        ) from None
    at = text.find("\0")
    if at >= 0:
        place = _place(name, Positions(text).span(at, at + 1))
        raise InputError(Trouble(place, "a NUL character", what, "is it a binary file?"))
    return text


def _syntax_trouble(error: tomli.TOMLDecodeError, positions: Positions, name: str) -> Trouble:
    message = error.msg
    if message.startswith(_WRITTEN_TWICE) and positions.repeats:
        repeat = positions.repeats[0]
        first = positions.span(*repeat.first)
        key = str(repeat.path[-1])
        return Trouble(
            _place(name, positions.span(*repeat.key)),
            f'"{key[:40]}" a second time',
            f"each key and table once; it is first written on line {first.line}",
        )
    at = positions.offset(error.lineno, error.colno)
    statement = _statement_before(positions, at)
    if message.startswith(_WRITTEN_TWICE):
        return _twice(statement, positions, name)
    if message.startswith("Unescaped"):
        at = max(positions.text.rfind("\\", 0, at), 0)  # the parser stops after the escape
    # Parsing 47k stops at the k; the word as a whole is what the builder sees.
    whole = message.startswith(("Expected newline", "Invalid value"))
    around = positions.text[max(0, at - 1) : at + 1]
    glued = message.startswith("Unclosed") and len(around) == 2 and bool(_WORD.fullmatch(around))
    start, end, found = _found(positions.text, at, whole or glued)
    expected, hint = next(
        ((expected, hint) for words, expected, hint in _EXPECTED if message.startswith(words)),
        (f"valid TOML: {message.lower()}", ""),
    )
    if glued:
        expected, hint = _VALUE, _QUOTE_IT
    elif message.startswith("Expected newline") and start < at:
        expected = _VALUE
    elif message.startswith("Illegal character") and positions.text[at : at + 1] in ("\r", "\n"):
        expected = "a closing quote"
    place = _place(name, positions.span(start, end))
    if statement and not hint:
        began = positions.span(statement.start, at).line
        if began < place.line:
            hint = f"the statement begins on line {began}"
    return Trouble(place, found, expected, hint)


def _twice(statement: Statement | None, positions: Positions, name: str) -> Trouble:
    """A table that was already made by other means, such as dotted keys."""
    expected = "each key and table once"
    if statement is None:
        return Trouble(_place(name, positions.nearest(())), "a key a second time", expected)
    place = _place(name, positions.span(statement.start, statement.start + 1))
    first = positions.key(statement.path)
    if first and first.line < place.line:
        expected += f"; it is first written on line {first.line}"
    return Trouble(place, f'"{str(statement.path[-1])[:40]}" a second time', expected)


def _statement_before(positions: Positions, at: int) -> Statement | None:
    return next((one for one in reversed(positions.statements) if one.start <= at), None)


def _found(text: str, at: int, whole: bool) -> tuple[int, int, str]:
    """What stands at ``at``, with the part of its word before it when ``whole``."""
    start = at
    if whole and (at == len(text) or _WORD.fullmatch(text[at]) or text[at] in "\r\n"):
        while start > max(0, at - 40) and _WORD.fullmatch(text[start - 1]):
            start -= 1
    match = _WORD.match(text, at)
    end = match.end() if match else at
    if end > start:
        return start, end, f'"{text[start:end][:40]}"'
    if text.startswith("\\", at):
        return at, at + 2, f'"{text[at : at + 2]}"'
    if at >= len(text):
        return at, at, "the end of the file"
    if text[at] in "\r\n":
        return at, at, "the end of the line"
    return at, at + 1, "a quotation mark" if text[at] == '"' else f'"{text[at]}"'


def _long_number(positions: Positions, name: str) -> Trouble:
    """Python refuses to convert an integer of more than 4300 digits."""
    match = re.search(r"[0-9_]{4300,}+", positions.text)
    start = match.start() if match else 0
    end = match.end() if match else 0
    place = _place(name, positions.span(start, end))
    return Trouble(place, "a number of thousands of digits", "a number of at most 18 digits")


def _huge_integers(raw: dict[str, Any]) -> Iterator[DocumentPath]:
    """Integers that TOML does not promise (64 bits, TOML 1.0 "Integer"), in file order."""
    waiting: list[tuple[DocumentPath, Any]] = [((), raw)]
    while waiting:
        path, here = waiting.pop()
        if isinstance(here, dict):
            waiting.extend(((*path, name), item) for name, item in reversed(list(here.items())))
        elif isinstance(here, list):
            waiting.extend(((*path, i), here[i]) for i in reversed(range(len(here))))
        elif isinstance(here, int) and not -(2**63) <= here < 2**63:
            yield path
