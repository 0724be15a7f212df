"""From a validation error's location to the line that caused it."""

from __future__ import annotations

from collections.abc import Sequence

from coldcheck.lint.model import DocumentPath
from coldcheck.lint.read.positions import Positions, Span

# Errors about the key itself, in pydantic's vocabulary.
_ABOUT_KEY = frozenset({"extra_forbidden", "invalid_key"})


def path_of(location: Sequence[str | int], raw: object) -> DocumentPath:
    """The document path of a pydantic ``loc``: the steps that exist in the parsed document.

    The others are names of union members, ``[key]`` marks and names of validators.  Limit: a
    union member spelt like a key of the same table is taken for that key.
    """
    path: list[str | int] = []
    here = raw
    for step in location:
        if isinstance(here, dict):
            # A pin number is an int to the model and text to TOML.
            name = step if step in here else str(step)
            if name in here:
                path.append(name)
                here = here[name]
        elif isinstance(here, list) and isinstance(step, int) and 0 <= step < len(here):
            path.append(step)
            here = here[step]
    return tuple(path)


def locate(
    location: Sequence[str | int], raw: object, positions: Positions, kind: str = ""
) -> Span:
    """The span to show for a pydantic error.

    location: the error's ``loc``; raw: the parsed document; kind: the error's ``type``.
    A missing key points at its parent's header, a wrong key at the key, all else at the value.
    """
    if kind == "missing":
        path = path_of(location[:-1], raw)
        return positions.header(path) or positions.nearest(path)
    path = path_of(location, raw)
    if kind in _ABOUT_KEY or (location and location[-1] == "[key]"):
        return positions.nearest(path)
    return positions.value(path) or positions.nearest(path)
