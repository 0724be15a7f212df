"""The wording and grouping that reports share; every function is pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from coldcheck.lint.model import Finding, Place, Review, Signal

GRAVEST_FIRST = tuple(sorted(Signal, reverse=True))

CAUTION = (
    "Tube amplifiers hold voltages that kill, and keep them after the mains plug is pulled. "
    "Before a hand goes in: pull the plug, discharge every reservoir through a resistor made "
    "for it, and prove with a meter that it is discharged. This report judges a document, not "
    "the thing that was built. Local electrical codes, and the judgement of a person licensed to "
    "apply them, stand above anything it says."
)


class Waiting(NamedTuple):
    """Rules that could not judge, and everything that the same rules wait for."""

    rules: tuple[str, ...]
    data: tuple[str, ...]
    signal: Signal
    """The gravest word that any of the rules could have said."""
    subjects: tuple[str, ...]
    says: tuple[str, ...]
    places: tuple[Place, ...]


def live(review: Review) -> tuple[Finding, ...]:
    """The findings nobody has accepted, gravest first."""
    return tuple(finding for finding in _ordered(review.findings) if finding.accepted is None)


def accepted(review: Review) -> tuple[Finding, ...]:
    """The findings the designer keeps, gravest first."""
    return tuple(finding for finding in _ordered(review.findings) if finding.accepted is not None)


def waiting(review: Review) -> tuple[Waiting, ...]:
    """What could not be judged, gravest first.

    Many rules that wait for one datum make one entry, and so do many data that one set of rules
    waits for.
    """
    by_datum: dict[str, list[Finding]] = {}
    for finding in review.opens:
        by_datum.setdefault(finding.datum or finding.says, []).append(finding)
    by_rules: dict[tuple[str, ...], list[Finding]] = {}
    for group in by_datum.values():
        by_rules.setdefault(tuple(sorted({item.rule for item in group})), []).extend(group)
    entries = [_waiting(rules, group) for rules, group in by_rules.items()]
    return tuple(sorted(entries, key=lambda entry: (-entry.signal, -len(entry.rules), entry.rules)))


def _waiting(rules: tuple[str, ...], group: list[Finding]) -> Waiting:
    places = {finding.place for finding in group if finding.place is not None}
    return Waiting(
        rules=rules,
        data=_distinct(finding.datum or finding.says for finding in group),
        signal=max(finding.signal for finding in group),
        subjects=_distinct(finding.about.name for finding in group),
        says=_distinct(finding.says for finding in group if finding.says and finding.datum),
        places=tuple(sorted(places, key=lambda place: (place.file, place.line, place.column))),
    )


def unjudged(review: Review, least: Signal = Signal.NOTE) -> tuple[str, ...]:
    """The rules that could not judge something and could have said ``least`` or a graver word."""
    return tuple(sorted({finding.rule for finding in review.opens if finding.signal >= least}))


def clear(review: Review) -> tuple[str, ...]:
    """The rules that passed on every subject they looked at."""
    spoiled = {finding.rule for finding in (*review.findings, *review.opens)}
    return tuple(sorted({finding.rule for finding in review.passes} - spoiled))


def passed(review: Review) -> str:
    """What passed, in a line."""
    rules = set(clear(review))
    subjects = {
        (finding.about.kind, finding.about.name)
        for finding in review.passes
        if finding.rule in rules
    }
    partly = len({finding.rule for finding in review.passes} - rules)
    if not rules:
        return f"{count(partly, 'rule')} passed, on some subjects." if partly else "No rule passed."
    line = f"{count(len(rules), 'rule')} passed on {count(len(subjects), 'subject')}"
    if partly:
        line += f"; {count(partly, 'other')} passed on some subjects and not on all"
    return line + "."


def verdict(review: Review) -> str:
    """The closing line: counts by signal word, and what keeps the review from being whole."""
    now = live(review)
    counts = [
        f"{number} {word.name}"
        for word in GRAVEST_FIRST
        if (number := sum(finding.signal is word for finding in now))
    ]
    parts = [", ".join(counts) or "no finding"]
    if kept := accepted(review):
        parts.append(f"{len(kept)} accepted by the designer")
    if waits := unjudged(review):
        grave = len(unjudged(review, Signal.WARNING))
        of_them = f", {grave} of them DANGER or WARNING" if grave else ""
        parts.append(f"{count(len(waits), 'rule')} could not judge{of_them}")
    if review.crashes:
        parts.append(f"{count(len(review.crashes), 'rule')} failed by our fault")
    line = "; ".join(parts) + "."
    return line[0].upper() + line[1:] + _advice(review, now)


def _advice(review: Review, now: tuple[Finding, ...]) -> str:
    if any(finding.signal >= Signal.WARNING for finding in now):
        return " Do not power this as drawn."
    if review.crashes or unjudged(review, Signal.WARNING):
        return " The review is incomplete."
    if not (now or review.opens or review.passes):
        return " Nothing was judged."
    return "" if now else " What the document does not say was not judged."


def count(number: int, noun: str) -> str:
    """``1 rule``, ``2 rules``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def sentence(text: str) -> str:
    """The text with a closing mark."""
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _ordered(findings: Iterable[Finding]) -> list[Finding]:
    """Gravest first; the engine's order stands among equals."""
    return sorted(findings, key=lambda finding: (-finding.signal, -finding.rank))


def _distinct(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))
