"""What a document says that cannot be, gathered while its references are resolved."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from coldcheck.lint.model import DocumentPath
from coldcheck.lint.read.spelling import nearest


class Problem(NamedTuple):
    """Where, what was found, what would do; ``on_key`` when the key is at fault, not its value."""

    path: DocumentPath
    found: str
    expected: str
    hint: str
    on_key: bool


class Problems:
    """The problems found so far, in the order they were met."""

    def __init__(self) -> None:
        self.found: list[Problem] = []
        self._places: set[DocumentPath] = set()

    def add(
        self,
        path: DocumentPath,
        found: str,
        expected: str,
        word: str = "",
        known: Iterable[str] = (),
        on_key: bool = False,
    ) -> None:
        """Note a problem; the known name closest to ``word`` becomes a suggestion.

        Only the first at each place: what a channel says wrongly, each of its uses would repeat.
        """
        if path in self._places:
            return
        self._places.add(path)
        near = nearest(word, known) if word else None
        hint = f'did you mean "{near}"?' if near and near != word else ""
        self.found.append(Problem(path, found, expected, hint, on_key))
