"""All rules there are: the built-in ones and those of installed packs.

Cheap: loads rule modules and nothing heavy, so that listings and rule pages come at once.
"""

from __future__ import annotations

import functools
import importlib
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from coldcheck.lint.engine import packs
from coldcheck.lint.model import Basis, Card, Crash, Harm, Source
from coldcheck.lint.rulekit import Rule

ACCEPTANCE = Card(
    rule="papers/acceptance",
    title="An acceptance that is out of date or covers nothing",
    harm=Harm.UNTIDY,
    why="A finding that was considered and kept is a decision with a reason and a date. One that"
    " has expired, or that no longer matches any finding, hides nothing and misleads the reader.",
    sources=(Source("", "this project's own rule", Basis.PRACTICE),),
    needs=("the document, references resolved",),
)
"""The one rule the engine judges itself: only it knows which acceptances were used."""


class Catalogue(NamedTuple):
    """Rules by name, where each one's files are, and what could not be loaded."""

    rules: dict[str, Rule]
    files: dict[str, Path]
    notes: tuple[str, ...]
    """A sentence for each pack and rule that was left out."""

    @property
    def missing(self) -> tuple[Crash, ...]:
        """The same as crashes: a review without a rule that is installed is not whole."""
        return tuple(Crash("a rule that did not load", note, "when loading") for note in self.notes)


@functools.cache
def catalogue() -> Catalogue:
    """Every rule that can be run, sorted by name."""
    found = packs.installed()
    listed = [*packs.built_in(), *(rule for pack in found.packs for rule in pack.rules)]
    rules: dict[str, Rule] = {}
    files: dict[str, Path] = {}
    notes = list(found.notes)
    for entry in sorted(listed, key=lambda entry: entry.rule):
        try:
            module = importlib.import_module(entry.module)
        except Exception as fault:
            said = f"{type(fault).__name__} ({fault}) importing {entry.module}"
            notes.append(f"rule {entry.rule} was left out: {said}")
            continue
        held = [thing for thing in vars(module).values() if isinstance(thing, Rule)]
        if len(held) != 1:
            notes.append(f"rule {entry.rule} was left out: {entry.module} holds {len(held)} rules")
            continue
        card = held[0].card._replace(rule=entry.rule)
        rules[entry.rule] = held[0]._replace(card=card)
        files[entry.rule] = Path(module.__file__ or "")
    return Catalogue(rules, files, tuple(notes))


def cards() -> tuple[Card, ...]:
    """The card of every rule, sorted by name."""
    every = [*(rule.card for rule in catalogue().rules.values()), ACCEPTANCE]
    return tuple(sorted(every, key=lambda card: card.rule))


def selected(wanted: Iterable[str]) -> dict[str, Rule]:
    """The rules of the given names and areas; all of them when none is given.

    Raises KeyError with the first name that is neither a rule nor an area.
    """
    rules = catalogue().rules
    names = tuple(wanted)
    if not names:
        return dict(rules)
    chosen: dict[str, Rule] = {}
    for name in names:
        hits = {rule: rules[rule] for rule in rules if rule == name or rule.startswith(f"{name}/")}
        if not hits and name != ACCEPTANCE.rule:
            raise KeyError(name)
        chosen |= hits
    return {name: chosen[name] for name in sorted(chosen)}
