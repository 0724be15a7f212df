"""The review as SARIF 2.1.0 (OASIS Standard, errata 01), one run for all documents.

Clauses followed: ruleId 3.27.5, kind 3.27.9, level 3.27.10, partialFingerprints 3.27.17,
suppressions 3.27.23, rank 3.27.25, columnKind 3.14.27, regions 3.30.2, logicalLocation 3.33.
No time, user, machine or absolute path is written, so the same reviews give the same bytes.
"""

from __future__ import annotations

import hashlib
import json
import posixpath
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import PurePath
from urllib.parse import quote

from coldcheck.lint.model import (
    Accepted,
    Card,
    Crash,
    Finding,
    Kind,
    Place,
    Review,
    Signal,
    Subject,
)
from coldcheck.lint.printing import clean, figure, limit, source
from coldcheck.lint.reports.machine import Unread
from coldcheck.lint.reports.words import sentence
from coldcheck.lint.signal import gravest

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
FINGERPRINT = "coldcheckFinding/v1"

_LEVEL = {
    Signal.DANGER: "error",
    Signal.WARNING: "error",
    Signal.CAUTION: "warning",
    Signal.NOTICE: "note",
    Signal.NOTE: "note",
}

Json = dict[str, object]


def report(
    reviews: Sequence[Review],
    version: str,
    unread: Sequence[Unread] = (),
    base: str = "",
    passed: bool = False,
) -> str:
    """All reviews as one SARIF log, ending in a newline.

    File names under the folder ``base`` are written relative to it.  ``passed`` adds results of
    kind pass and notApplicable; without it the log holds fails and opens only.
    """
    rules = _rules(reviews)
    index = {str(rule["id"]): number for number, rule in enumerate(rules)}
    results: list[Json] = []
    for review in reviews:
        results += _results(review, index, base, passed)
    crashes = [crash for review in reviews for crash in review.crashes]
    run: Json = {
        "tool": {"driver": {"name": "coldcheck", "version": version, "rules": rules}},
        "columnKind": "unicodeCodePoints",
        "artifacts": [
            {"location": {"uri": uri(file, base)}, "roles": ["analysisTarget"]}
            for file in (*(review.file for review in reviews), *(file for file, _ in unread))
        ],
        "invocations": [
            {
                "executionSuccessful": not crashes and not unread,
                "toolExecutionNotifications": [
                    *(_crashed(crash, index) for crash in crashes),
                    *(_not_read(entry, base) for entry in unread),
                    *(_remark(note, review, base) for review in reviews for note in review.notes),
                ],
            }
        ],
        "results": results,
    }
    log: Json = {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}
    return json.dumps(log, allow_nan=False, ensure_ascii=True, indent=1, sort_keys=True) + "\n"


def _rules(reviews: Sequence[Review]) -> list[Json]:
    """A descriptor for every card, and for whatever was reported without one, by name."""
    cards: dict[str, Card] = {}
    titles: dict[str, str] = {}
    for review in reviews:
        cards.update(review.cards)
        for finding in (*review.findings, *review.opens, *review.passes):
            titles.setdefault(finding.rule, finding.title)
        for rule in (*review.not_applicable, *(crash.rule for crash in review.crashes)):
            titles.setdefault(rule, rule)
    return [
        _descriptor(cards[rule]) if rule in cards else _bare(rule, titles[rule])
        for rule in sorted({*cards, *titles})
    ]


def _descriptor(card: Card) -> Json:
    word = gravest(card.harm)
    why = " ".join(card.why.split())
    cited = "; ".join(source(cited) for cited in card.sources)
    return {
        **_bare(card.rule, card.title),
        "fullDescription": {"text": clean(f"{sentence(card.title)} {sentence(why)}")},
        "help": {"text": f"{clean(sentence(why))} Source: {cited or 'none given'}."},
        "defaultConfiguration": {"level": _LEVEL[word]},
        "properties": {
            "signalWord": word.name,
            "harm": card.harm.value,
            "states": [clean(state) for state in card.states],
            "problem.severity": {"error": "error", "warning": "warning", "note": "recommendation"}[
                _LEVEL[word]
            ],
        },
    }


def _bare(rule: str, title: str) -> Json:
    text = clean(title) or clean(rule)
    return {
        "id": clean(rule),
        "name": text,
        "shortDescription": {"text": text},
        "fullDescription": {"text": sentence(text)},
        "help": {"text": sentence(text)},
    }


def _results(review: Review, index: dict[str, int], base: str, passed: bool) -> Iterable[Json]:
    seen: Counter[str] = Counter()
    shown = (*review.findings, *review.opens, *(review.passes if passed else ()))
    for finding in shown:
        print_ = fingerprint(review, finding)
        seen[print_] += 1
        yield _result(finding, review, f"{print_}/{seen[print_]}", index, base)
    if passed:
        for rule in sorted(review.not_applicable):
            yield {
                "ruleId": clean(rule),
                "ruleIndex": index[clean(rule)],
                "kind": Kind.NOT_APPLICABLE.value,
                "level": "none",
                "message": {"text": "There is nothing in the document for this rule to judge."},
                "locations": [_location(None, None, review, base)],
            }


def fingerprint(review: Review, finding: Finding) -> str:
    """What stays the same when lines move: project, rule, outcome and the thing concerned."""
    words = (
        review.project,
        finding.rule,
        finding.kind.value,
        finding.about.kind,
        finding.about.name,
    )
    return hashlib.sha256("\0".join(words).encode("utf-8", "backslashreplace")).hexdigest()[:32]


def _result(
    finding: Finding, review: Review, print_: str, index: dict[str, int], base: str
) -> Json:
    failed = finding.kind is Kind.FAIL
    result: Json = {
        "ruleId": clean(finding.rule),
        "ruleIndex": index[clean(finding.rule)],
        "kind": finding.kind.value,
        "level": _LEVEL[finding.signal] if failed else "none",
        "message": {"text": _message(finding)},
        "locations": [_location(finding.place, finding.about, review, base)],
        "partialFingerprints": {FINGERPRINT: print_},
        "properties": _properties(finding),
    }
    if failed:
        result["rank"] = finding.rank
    if finding.others:
        result["relatedLocations"] = [
            {"id": number, "logicalLocations": [_logical(other)]}
            for number, other in enumerate(finding.others, 1)
        ]
    if finding.accepted is not None:
        result["suppressions"] = [_suppression(finding.accepted)]
    return result


def _message(finding: Finding) -> str:
    if finding.kind is Kind.OPEN:
        said = f" {sentence(finding.says)}" if finding.says else ""
        text = f"{finding.signal.name} not judged: waits for {sentence(finding.datum)}{said}"
    elif finding.kind is Kind.PASS:
        text = sentence(finding.says) if finding.says else f"{finding.about.name} passes."
    else:
        remedy = f" Remedy: {sentence(finding.remedy)}" if finding.remedy else ""
        text = f"{finding.signal.name}: {sentence(finding.says)}{remedy}"
    # A brace begins a placeholder (3.11.5); doubled, it is itself.
    return clean(text).replace("{", "{{").replace("}", "}}")


def _properties(finding: Finding) -> Json:
    """What SARIF has no field for, as a reader sees it."""
    values: dict[str, object] = {
        "signalWord": finding.signal.name,
        "state": clean(finding.state),
        "working": [clean(line) for line in finding.working],
        "restsOn": [f"{clean(item.what)}, {item.basis.value}" for item in finding.rests_on],
    }
    if finding.value is not None:
        values["computed"] = figure(finding.value)
    if finding.limit is not None:
        values["limit"] = f"{limit(finding.limit)} ({source(finding.limit.source)})"
    return {key: value for key, value in values.items() if value}


def _suppression(kept: Accepted) -> Json:
    until = f", until {kept.until}" if kept.until else ""
    return {
        "kind": "inSource",
        "status": "accepted",
        "justification": clean(f"{sentence(kept.reason)} {kept.by}, {kept.date}{until}."),
    }


def _location(place: Place | None, about: Subject | None, review: Review, base: str) -> Json:
    physical: Json = {"artifactLocation": {"uri": uri(place.file if place else review.file, base)}}
    if place is not None:
        physical["region"] = {
            "startLine": place.line,
            "startColumn": place.column,
            "endLine": place.end_line,
            "endColumn": place.end_column,
        }
    location: Json = {"physicalLocation": physical}
    if about is not None:
        location["logicalLocations"] = [_logical(about)]
    return location


def _logical(subject: Subject) -> Json:
    return {
        "name": clean(subject.name),
        "kind": clean(subject.kind),
        "fullyQualifiedName": clean(".".join(map(str, subject.path)) or subject.name),
    }


def _crashed(crash: Crash, index: dict[str, int]) -> Json:
    return {
        "level": "error",
        "associatedRule": {"id": clean(crash.rule), "index": index[clean(crash.rule)]},
        "message": {
            "text": clean(f"This rule did not run, by our fault: {crash.error} ({crash.where})")
        },
    }


def _not_read(entry: Unread, base: str) -> Json:
    file, lines = entry
    return {
        "level": "error",
        "locations": [{"physicalLocation": {"artifactLocation": {"uri": uri(file, base)}}}],
        "message": {"text": clean("; ".join(lines))},
    }


def _remark(note: str, review: Review, base: str) -> Json:
    return {
        "level": "note",
        "locations": [_location(None, None, review, base)],
        "message": {"text": clean(note)},
    }


def uri(file: str, base: str = "") -> str:
    """A file name as a URI reference, relative to the folder ``base`` where it lies inside it."""
    path = PurePath(file)
    if path.is_absolute() and base and path.is_relative_to(base):
        path = path.relative_to(base)
    if path.is_absolute():
        return path.as_uri()
    return quote(posixpath.normpath(path.as_posix()))
