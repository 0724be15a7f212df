"""Which files a command means: documents named or found in folders, and the tube library."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from coldcheck.lint.cli import Refusal

if TYPE_CHECKING:
    from coldcheck.lint.read.tube_types import TubeTypes

STANDARD_INPUT = "-"
STANDARD_INPUT_NAME = "standard input"
LONGEST = 1_000_000
"""Bytes looked at to see whether a file is a document; the reader refuses longer ones."""

# Two of these three at the start of a line make a document; one alone is some other tool's file.
_SIGNS = (
    re.compile(rb"^\s*format\s*=\s*[0-9]", re.MULTILINE),
    re.compile(rb"^\s*(\[\s*)?parts\s*[\].=]", re.MULTILINE),
    re.compile(rb"^\s*(\[\s*)?schematic\s*[\].=]", re.MULTILINE),
)


def find(paths: Sequence[str], documents_only: bool) -> list[str]:
    """The documents to review, each once, in the order asked for, folders in sorted order.

    ``documents_only`` also passes over named files that do not look like documents.  Raises
    Refusal for a path that does not exist and when nothing is left (except with
    ``documents_only``).
    """
    found: dict[str, str] = {}
    for path in paths:
        for file in _files(path, documents_only):
            found.setdefault(file if file == STANDARD_INPUT else os.path.realpath(file), file)
    if not found and not documents_only:
        raise Refusal(f"no coldcheck document was found in {', '.join(paths)}")
    return list(found.values())


def own_tubes(unread: bool) -> TubeTypes:
    """The tube types there are beside a document's: the builder's own before the shipped.

    ``unread`` leaves his file alone.  Raises InputError when it cannot be used.
    """
    from coldcheck.lint.read.personal import personal_file, read_personal

    return read_personal(None if unread else personal_file(os.environ))


def looks_like_document(path: str) -> bool:
    """Whether a file has the shape of a document, by its text alone; False if unreadable."""
    try:
        with open(path, "rb") as file:
            text = file.read(LONGEST)
    except OSError:
        return False
    return sum(sign.search(text) is not None for sign in _SIGNS) >= 2


def _files(path: str, documents_only: bool) -> Iterator[str]:
    if path == STANDARD_INPUT:
        yield path
    elif os.path.isdir(path):
        yield from _in_folder(path)
    elif not os.path.exists(path):
        raise Refusal(f"there is no file or folder {path!r}")
    elif not documents_only or looks_like_document(path):
        yield path


def _in_folder(folder: str) -> Iterator[str]:
    for here, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            path = os.path.join(here, name)
            if name.endswith(".toml") and looks_like_document(path):
                yield path
