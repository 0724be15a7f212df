"""What is wrong with an input file: one clear line each, safe to print on any terminal."""

from __future__ import annotations

from typing import NamedTuple

from coldcheck.lint.model import Place


def clean(text: str) -> str:
    r"""``text`` with everything that does not print written as ``\uXXXX``, line breaks too.

    Control characters, C1 bytes and direction marks in a part's name could otherwise rewrite the
    reader's screen, or make a report show something else than it says.

    >>> clean("R1\x1b[2J\u202e")
    'R1\\u001b[2J\\u202e'
    """
    if text.isprintable():
        return text
    return "".join(mark if mark.isprintable() else _escaped(mark) for mark in text)


def _escaped(mark: str) -> str:
    code = ord(mark)
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


class Trouble(NamedTuple):
    """One thing the reader could not accept, and what to write instead."""

    place: Place
    found: str
    expected: str
    hint: str = ""

    def text(self) -> str:
        """``file:line:column: found ..., expected ...`` on one printable line."""
        line = f"{self.place}: found {self.found}, expected {self.expected}"
        return clean(f"{line} ({self.hint})" if self.hint else line)


class InputError(Exception):
    """The input cannot be reviewed as it is; carries every trouble found, in file order."""

    def __init__(self, *troubles: Trouble) -> None:
        self.troubles = troubles
        super().__init__("\n".join(trouble.text() for trouble in troubles))
