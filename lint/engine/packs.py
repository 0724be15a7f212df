"""Where rules come from: the built-in folder and installed rule packs.

A rule is one module in an area folder, and its path is its name: ``rules/stored_energy/
slow_discharge.py`` is ``stored-energy/slow-discharge``.  A pack is any installed distribution
with an entry point in the group ``coldcheck.packs`` whose value is a package of such area
folders; the entry point's name comes first in the names of its rules, as in
``workshop/heaters/own-practice``.  Built-in names have two words and pack names three, so the
two can never be confused.

Nothing is imported until a review or a listing asks for it, and a pack that fails never ends
the run: it is left out and a note says so.
"""

from __future__ import annotations

import importlib
import os
import re
import sys
from collections.abc import Iterable
from types import ModuleType
from typing import NamedTuple

BUILT_IN = "coldcheck.rules"
GROUP = "coldcheck.packs"

_PACK_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


class RuleModule(NamedTuple):
    """A rule's name and the module that holds it."""

    rule: str
    module: str


class Pack(NamedTuple):
    """An installed rule pack whose rule modules all import."""

    name: str
    package: str
    rules: tuple[RuleModule, ...]


class Installed(NamedTuple):
    """The packs that can be used, and a sentence for each thing that was left out."""

    packs: tuple[Pack, ...]
    notes: tuple[str, ...]


def rule_modules(package: str | ModuleType) -> list[str]:
    """Dotted names of the rule modules in a package's area folders, sorted; imports none of them.

    Names with a leading underscore are helpers, not areas or rules.  Raises ImportError when the
    package itself cannot be imported.
    """
    home = importlib.import_module(package) if isinstance(package, str) else package
    found = set()
    for folder in getattr(home, "__path__", ()):
        for area in _folders(folder):
            for module in _modules(os.path.join(folder, area)):
                found.add(f"{home.__name__}.{area}.{module}")
    return sorted(found)


def rule_name(module: str, pack: str = "") -> str:
    """The rule's name, from its module's: the last two words, hyphens for underscores.

    ``rule_name("coldcheck.rules.stored_energy.slow_discharge")`` is
    ``"stored-energy/slow-discharge"``; a pack's name is put in front.
    """
    words = [word.replace("_", "-") for word in module.split(".")[-2:]]
    return "/".join([pack, *words] if pack else words)


def built_in() -> tuple[RuleModule, ...]:
    """The rules that come with coldcheck, sorted by name."""
    return _named(rule_modules(BUILT_IN))


def installed(search: list[str] | None = None) -> Installed:
    """The installed packs, sorted by name; ``search`` replaces ``sys.path`` as where to look."""
    entries = _entries(sys.path if search is None else search)
    packs: list[Pack] = []
    notes: list[str] = []
    areas = {rule.rule.split("/")[0] for rule in built_in()}
    for name, value in entries:
        if (reason := _refusal(name, areas, (other for other, _ in entries))) is not None:
            notes.append(f"rule pack {name!r} ({value}) was left out: {reason}")
            continue
        try:
            modules = rule_modules(value)
        except (Exception, SystemExit) as error:
            notes.append(f"rule pack {name!r} was left out: {_what(error)} importing {value}")
            continue
        rules, troubles = _importable(modules, name)
        notes += troubles
        if not modules:
            notes.append(f"rule pack {name!r} holds no rules: {value} has no area folders")
        packs.append(Pack(name, value, rules))
    return Installed(tuple(packs), tuple(notes))


def _entries(search: list[str]) -> list[tuple[str, str]]:
    """Name and value of every entry point of the group, sorted."""
    if not any(map(_may_hold_packs, search)):
        return []
    from importlib.metadata import distributions

    return sorted(
        {
            (entry.name, entry.value)
            for distribution in distributions(path=search)
            for entry in distribution.entry_points
            if entry.group == GROUP
        }
    )


def _may_hold_packs(path: str) -> bool:
    """Whether a place on the search path mentions the group, or cannot be looked into.

    importlib.metadata takes 25 ms to import, a quarter of ``coldcheck rules``, to tell most
    people that they have no packs; the files it would read are looked into first.
    """
    folder = path or os.curdir
    if not os.path.isdir(folder):
        return os.path.exists(folder)
    try:
        with os.scandir(folder) as entries:
            names = [
                entry.name for entry in entries if entry.name.endswith((".dist-info", ".egg-info"))
            ]
    except OSError:
        return False
    for name in names:
        try:
            with open(os.path.join(folder, name, "entry_points.txt"), "rb") as file:
                if GROUP.encode() in file.read():
                    return True
        except OSError:
            continue
    return False


def _refusal(name: str, areas: set[str], names: Iterable[str]) -> str | None:
    """Why a pack of this name cannot be used, or None."""
    if _PACK_NAME.fullmatch(name) is None:
        return "its name may hold small letters, digits and single hyphens only"
    if name in areas:
        return "its name is that of an area of the built-in rules"
    if sum(other == name for other in names) > 1:
        return "another installed pack has the same name"
    return None


def _importable(modules: list[str], pack: str) -> tuple[tuple[RuleModule, ...], list[str]]:
    """The modules that import, by rule name, and a note on each that does not."""
    good: list[str] = []
    notes: list[str] = []
    for module in modules:
        try:
            importlib.import_module(module)
        except (Exception, SystemExit) as error:
            rule = rule_name(module, pack)
            notes.append(f"rule {rule} was left out: {_what(error)} importing {module}")
        else:
            good.append(module)
    return _named(good, pack), notes


def _named(modules: Iterable[str], pack: str = "") -> tuple[RuleModule, ...]:
    rules = [RuleModule(rule_name(module, pack), module) for module in modules]
    return tuple(sorted(rules, key=lambda rule: rule.rule))


def _what(error: BaseException) -> str:
    """An error in one line: its type and the first line of what it says."""
    said = str(error).strip().splitlines()
    return f"{type(error).__name__} ({said[0]})" if said else type(error).__name__


def _folders(folder: str) -> list[str]:
    with os.scandir(folder) as entries:
        return sorted(entry.name for entry in entries if entry.is_dir() and _public(entry.name))


def _modules(folder: str) -> list[str]:
    with os.scandir(folder) as entries:
        names = [entry.name.removesuffix(".py") for entry in entries if entry.name.endswith(".py")]
    return sorted(name for name in names if _public(name))


def _public(name: str) -> bool:
    return name.isidentifier() and not name.startswith("_")
