"""Stories: for every rule, changes to a clean design that it must report, and near misses.

A story file lies beside its rule.  It is the rule's test, and its page shows it as the example.
"""

from __future__ import annotations

import copy
import functools
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from coldcheck.lint.engine.catalogue import catalogue

# Tables keyed by reference, from which "without" takes an entry away.
TABLES = ("parts", "schematic", "leads", "layout", "wires", "holes", "expect")


class Expected(NamedTuple):
    """A finding a scene must draw: on what, with which signal word, saying what."""

    about: str
    word: str = ""
    mentions: tuple[str, ...] = ()
    kind: str = "fail"


class Scene(NamedTuple):
    """One change to a clean design, and what must come of it."""

    tells: str
    change: str
    base: str
    without: tuple[str, ...] = ()
    put: Mapping[str, Any] = MappingProxyType({})
    reports: tuple[Expected, ...] = ()
    also: tuple[str, ...] = ()
    """Other rules that this change rightly sets off too."""

    def apply(self, raw: Mapping[str, Any]) -> dict[str, Any]:
        """The changed document; raises KeyError when the change does not fit the base."""
        changed = copy.deepcopy(dict(raw))
        for ref in self.without:
            tables = [changed[t] for t in TABLES if ref in changed.get(t, {})]
            if not tables and "." not in ref:
                raise KeyError(ref)
            for table in tables:
                del table[ref]
            if "." in ref:
                parent, last = _walk(changed, ref)
                del parent[last]
        for dotted, value in self.put.items():
            parent, last = _walk(changed, dotted)
            parent[last] = value
        return changed


class Story(NamedTuple):
    """All scenes of one rule."""

    rule: str
    scenes: tuple[Scene, ...]

    @property
    def fires(self) -> tuple[Scene, ...]:
        return tuple(scene for scene in self.scenes if scene.reports)

    @property
    def silent(self) -> tuple[Scene, ...]:
        return tuple(scene for scene in self.scenes if not scene.reports)


def _walk(document: dict[str, Any], dotted: str) -> tuple[Any, Any]:
    """The table that holds a dotted path's last step; steps may be list positions."""
    steps = dotted.split(".")
    here: Any = document
    for step in steps[:-1]:
        here = here[int(step)] if isinstance(here, list) else here.setdefault(step, {})
    last = steps[-1]
    return here, int(last) if isinstance(here, list) else last


@functools.cache
def story(rule: str) -> Story | None:
    """The story of a rule, or None when it has no story file."""
    where = catalogue().files.get(rule)
    if where is None:
        return None
    file = Path(where).with_suffix(".toml")
    if not file.is_file():
        return None
    import tomli

    told = tomli.loads(file.read_text(encoding="utf-8"))
    return Story(rule, tuple(_scene(entry, told["from"]) for entry in told["story"]))


def _scene(entry: Mapping[str, Any], base: str) -> Scene:
    without = tuple(entry.get("without", ()))
    put = entry.get("set", {})
    said = [f"without {ref}" for ref in without]
    said += [f"{path} = {_written(value)}" for path, value in put.items()]
    reports = tuple(
        Expected(r["about"], r.get("word", ""), tuple(r.get("mentions", ())), r.get("kind", "fail"))
        for r in entry.get("reports", ())
    )
    change = "; ".join(said) or "as it stands"
    return Scene(
        entry["tells"],
        change,
        entry.get("from", base),
        without,
        put,
        reports,
        tuple(entry.get("also", ())),
    )


def _written(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_written(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_written(v) for v in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else str(value)
