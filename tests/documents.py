"""Small documents for tests, and what the reader makes of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from coldcheck.lint.design import Design
from coldcheck.lint.read.errors import InputError
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_text

ROOT = Path(__file__).resolve().parent.parent
DEMOS = sorted((ROOT / "projects").glob("*.toml"))
STARTER = ROOT / "schemas" / "starter.toml"
HEAD = """\
format = 1
[project]
name = "T"
duty = "supply"
[site]
mains = { voltage = "230 V", frequency = "50 Hz", tolerance = "10 %" }
ambient = "30 degC"
"""


def parsed(file: Path) -> dict[str, Any]:
    """A document as plain values."""
    return read_text(file.read_bytes(), file.name)[0]


def design(body: str, head: str = HEAD) -> Design:
    """The design of a document that is right."""
    raw, positions = read_text((head + body).encode(), "x")
    return load(raw, positions, "x").design


def messages(marked: str, head: str = HEAD) -> tuple[list[str], list[str]]:
    """What is said of a wrong document, and the ``file:line:column`` of each ``@`` in it.

    An ``@`` in the text marks a culprit; it is taken out before the document is read.
    """
    clean = head
    marks: list[str] = []
    for at, piece in enumerate(marked.split("@")):
        if at:
            marks.append(f"x:{clean.count(chr(10)) + 1}:{len(clean) - clean.rfind(chr(10))}")
        clean += piece
    try:
        raw, positions = read_text(clean.encode(), "x")
        load(raw, positions, "x")
    except InputError as error:
        return [trouble.text() for trouble in error.troubles], marks
    return [], marks
