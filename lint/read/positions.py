"""Where each key and value of a TOML document stands, for messages that point at a line.

The scanner only maps; the parser (tomli) validates.  On text that is not TOML it stops at the
first thing it does not understand and keeps what it has, which is how a parse error finds the
statement it belongs to.  Grammar: TOML 1.0 and 1.1.  Cost is linear in the length of the text.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from typing import NamedTuple

from coldcheck.lint.model import DocumentPath

DEEPEST = 32
"""Steps in a path; a review document needs six.  Bounds both recursion and the cost of paths."""

Extent = tuple[int, int]
"""Start and end offset in the text, end exclusive."""

_BLANK = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_SPACE = re.compile(r"[ \t]*+")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]++")
_BASIC = re.compile(r'"(?:[^"\\\n]++|\\.)*+"')
_LITERAL = re.compile(r"'[^'\n]*+'")
# A run of three to five quotes closes; the first one or two of a longer run are content.
_LONG_BASIC = re.compile(r'"""(?:[^"\\]++|\\.|"{1,2}(?!"))*+"{3,5}', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''(?:[^']++|'{1,2}(?!'))*+'{3,5}")
_SCALAR = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9]{2}:[^\s,\]}#]++|[^\s,\]}#]++")


class Span(NamedTuple):
    """A stretch of text: lines and columns count from 1, in characters; the end is exclusive."""

    line: int
    column: int
    end_line: int
    end_column: int


class TooDeep(ValueError):
    """Tables or arrays are nested deeper than DEEPEST; ``offset`` says where that happens."""

    def __init__(self, offset: int) -> None:
        self.offset = offset
        super().__init__(f"nested more than {DEEPEST} deep at character {offset}")


class Statement(NamedTuple):
    """A ``key = value`` pair, also within braces, or a header: where its key starts and its path."""

    path: DocumentPath
    start: int


class Repeat(NamedTuple):
    """A key or header written again, where only one is allowed."""

    path: DocumentPath
    key: Extent
    first: Extent


class Positions:
    """Spans by path.  A path holds keys and list indices, as in the parsed document."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.statements: list[Statement] = []
        self.repeats: list[Repeat] = []
        self.stopped: int | None = None
        """Offset of the first thing that was not understood; None for valid TOML."""
        self._keys: dict[DocumentPath, Extent] = {}
        self._values: dict[DocumentPath, Extent] = {}
        self._headers: dict[DocumentPath, Extent] = {}
        self._lines = [0, *(match.end() for match in re.finditer("\n", text))]

    def paths(self) -> Iterator[DocumentPath]:
        """Every path that has a place, each once."""
        yield from {**self._keys, **self._values, **self._headers}

    def key(self, path: DocumentPath) -> Span | None:
        """The last word of the key, where it is first written: ``R4`` of ``parts.R4 = ...``."""
        return self._span(self._keys.get(path))

    def value(self, path: DocumentPath) -> Span | None:
        """The value; None for a table written under headers or dotted keys."""
        return self._span(self._values.get(path))

    def header(self, path: DocumentPath) -> Span | None:
        """The ``[table]`` or ``[[table]]`` header, brackets included."""
        return self._span(self._headers.get(path))

    def nearest(self, path: DocumentPath) -> Span:
        """The key, header or list entry at ``path``, or at the nearest parent that has a place.

        The document itself is its first line.
        """
        for length in range(len(path), 0, -1):
            part = path[:length]
            found = self._keys.get(part) or self._headers.get(part) or self._values.get(part)
            if found is not None:
                return self.span(*found)
        return self.span(0, len(self.text.partition("\n")[0].rstrip("\r")))

    def span(self, start: int, end: int) -> Span:
        """Offsets into the text as lines and columns."""
        first = bisect_right(self._lines, start)
        last = bisect_right(self._lines, end)
        return Span(
            first, start - self._lines[first - 1] + 1, last, end - self._lines[last - 1] + 1
        )

    def offset(self, line: int, column: int) -> int:
        """The offset of a line and column, kept within the text."""
        if line > len(self._lines):
            return len(self.text)
        return min(self._lines[line - 1] + column - 1, len(self.text))

    def _span(self, extent: Extent | None) -> Span | None:
        return None if extent is None else self.span(*extent)


def scan(text: str) -> Positions:
    """Map a TOML document.

    Raises TooDeep; any other fault in the text only ends the mapping (``Positions.stopped``).
    """
    positions = Positions(text)
    try:
        _Scanner(positions).document()
    except _Stop as stop:
        positions.stopped = stop.offset
    return positions


class _Stop(Exception):
    def __init__(self, offset: int) -> None:
        self.offset = offset


class _Scanner:
    def __init__(self, into: Positions) -> None:
        self.into = into
        self.text = into.text
        self.lists: dict[DocumentPath, int] = {}
        """Entries so far of each list written as ``[[...]]``."""

    def document(self) -> None:
        text = self.text
        base: DocumentPath = ()
        at = self.skip(_BLANK, 0)
        while at < len(text):
            if text[at] == "[":
                base, at = self.header(at)
            else:
                at = self.pair(at, base)
            at = self.skip(_SPACE, at)
            if at < len(text) and text[at] not in "#\r\n":
                raise _Stop(at)
            at = self.skip(_BLANK, at)

    def skip(self, pattern: re.Pattern[str], at: int) -> int:
        match = pattern.match(self.text, at)
        return match.end() if match else at

    def expect(self, mark: str, at: int) -> int:
        if not self.text.startswith(mark, at):
            raise _Stop(at)
        return at + len(mark)

    def key(self, at: int, depth: int) -> tuple[list[tuple[str, Extent]], int]:
        """A dotted key, and the offset after it and the space that follows."""
        parts: list[tuple[str, Extent]] = []
        while True:
            match = self.word(at)
            parts.append((_plain(match[0]), match.span()))
            if depth + len(parts) > DEEPEST:
                raise TooDeep(at)
            at = self.skip(_SPACE, match.end())
            if not self.text.startswith(".", at):
                return parts, at
            at = self.skip(_SPACE, at + 1)

    def word(self, at: int) -> re.Match[str]:
        mark = self.text[at : at + 1]
        pattern = _BASIC if mark == '"' else _LITERAL if mark == "'" else _BARE_KEY
        match = pattern.match(self.text, at)
        if match is None:
            raise _Stop(at)
        return match

    def header(self, at: int) -> tuple[DocumentPath, int]:
        start = at
        mark = "[[" if self.text.startswith("[[", at) else "["
        parts, at = self.key(self.skip(_SPACE, at + len(mark)), 0)
        at = self.expect("]" * len(mark), at)
        path: DocumentPath = ()
        for index, (name, extent) in enumerate(parts):
            path = (*path, name)
            last = index == len(parts) - 1
            first = self.into._values.get(path)
            if last:
                self.into.statements.append(Statement(path, start))
                first = first or self.into._headers.get(path)
            if first is not None:
                self.into.repeats.append(Repeat(path, extent, first))
            self.into._keys.setdefault(path, extent)
            if last and mark == "[[":
                self.lists[path] = self.lists.get(path, 0) + 1
            if path in self.lists and (mark == "[[" or not last):
                path = (*path, self.lists[path] - 1)
        self.into._headers.setdefault(path, (start, at))
        return path, at

    def pair(self, at: int, base: DocumentPath) -> int:
        start = at
        parts, at = self.key(at, len(base))
        path = base
        for index, (name, extent) in enumerate(parts):
            path = (*path, name)
            last = index == len(parts) - 1
            if last:
                self.into.statements.append(Statement(path, start))
            first = self.into._keys.get(path) if last else self.into._values.get(path)
            if first is not None:
                self.into.repeats.append(Repeat(path, extent, first))
            self.into._keys.setdefault(path, extent)
        at = self.skip(_SPACE, self.expect("=", at))
        return self.value(at, path)

    def value(self, at: int, path: DocumentPath) -> int:
        mark = self.text[at : at + 1]
        if mark == "[":
            end = self.array(at + 1, path)
        elif mark == "{":
            end = self.braces(at + 1, path)
        else:
            match = self.scalar(mark, at).match(self.text, at)
            if match is None:
                raise _Stop(at)
            end = match.end()
        self.into._values.setdefault(path, (at, end))
        return end

    def scalar(self, mark: str, at: int) -> re.Pattern[str]:
        if mark == '"':
            return _LONG_BASIC if self.text.startswith('"""', at) else _BASIC
        if mark == "'":
            return _LONG_LITERAL if self.text.startswith("'''", at) else _LITERAL
        return _SCALAR

    def array(self, at: int, path: DocumentPath) -> int:
        if len(path) >= DEEPEST:
            raise TooDeep(at)
        index = 0
        while True:
            at = self.skip(_BLANK, at)
            if self.text.startswith("]", at):
                return at + 1
            at = self.skip(_BLANK, self.value(at, (*path, index)))
            index += 1
            if not self.text.startswith("]", at):
                at = self.expect(",", at)

    def braces(self, at: int, path: DocumentPath) -> int:
        while True:
            at = self.skip(_BLANK, at)
            if self.text.startswith("}", at):
                return at + 1
            at = self.skip(_BLANK, self.pair(at, path))
            if not self.text.startswith("}", at):
                at = self.expect(",", at)


def _plain(word: str) -> str:
    """A key without its quotes and escapes."""
    if word[0] == "'":
        return word[1:-1]
    if word[0] != '"':
        return word
    if "\\" not in word:
        return word[1:-1]
    import tomli  # its own unescaping: two copies of one table would drift apart

    try:
        return str(tomli.loads(f"k={word}")["k"])
    except tomli.TOMLDecodeError:
        return word[1:-1]
