"""``coldcheck review``: read, judge and report each document; the worst decides the status."""

from __future__ import annotations

import argparse
import datetime
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from coldcheck import __version__
from coldcheck.lint.cli import CLEAN, FOUND, UNUSABLE, Refusal
from coldcheck.lint.cli.arguments import nearest, use_colour, use_width
from coldcheck.lint.cli.documents import (
    STANDARD_INPUT,
    STANDARD_INPUT_NAME,
    find,
    own_tubes,
)
from coldcheck.lint.model import Review, Signal

if TYPE_CHECKING:
    from coldcheck.lint.read.tube_types import TubeTypes

Unread = tuple[str, tuple[str, ...]]


def run(options: argparse.Namespace) -> int:
    files = find(options.paths, options.if_document)
    if options.to is not None:
        _may_write(options.to, files)
    if not files:
        print("coldcheck: none of the files is a coldcheck document", file=sys.stderr)
        return CLEAN
    remarks = _narrowed(options.only)
    from coldcheck.lint.read.errors import InputError

    try:
        types = own_tubes(options.no_personal)
    except InputError as error:
        print(*(trouble.text() for trouble in error.troubles), sep="\n", file=sys.stderr)
        return UNUSABLE
    reviews, unread = _read(files, options.only, types, options.alone)
    reviews = [one._replace(notes=(*one.notes, *remarks)) for one in reviews]
    for _, lines in unread:
        print(*lines, sep="\n", file=sys.stderr)
    if reviews or options.form != "console":
        _write(_report(reviews, unread, options), options.to)
    if unread:
        return UNUSABLE
    least = Signal[options.fail_from.upper()]
    return max(status(review, least, options.let_open) for review in reviews)


def status(review: Review, least: Signal, let_open: bool) -> int:
    """1 for findings from ``least`` up, for grave rules left unjudged, and for a review not whole.

    Accepted findings do not count.  A crashed rule always does: nobody knows what it would have
    said.
    """
    outcomes = (review.findings, review.opens, review.passes, review.not_applicable)
    if review.crashes or not any(outcomes):
        return FOUND
    if any(item.signal >= least and item.accepted is None for item in review.findings):
        return FOUND
    grave = max(least, Signal.WARNING)
    if not let_open and any(item.signal >= grave for item in review.opens):
        return FOUND
    return CLEAN


def _read(
    files: Sequence[str], only: Sequence[str], types: TubeTypes, alone: bool
) -> tuple[list[Review], list[Unread]]:
    from coldcheck.lint.engine.review import review_path, review_text
    from coldcheck.lint.read.errors import InputError

    today = datetime.date.today()
    reviews: list[Review] = []
    unread: list[Unread] = []
    for file in files:
        name = STANDARD_INPUT_NAME if file == STANDARD_INPUT else file
        try:
            if file == STANDARD_INPUT:
                reviews.append(
                    review_text(sys.stdin.buffer.read(), name, today, only, types, alone)
                )
            else:
                reviews.append(review_path(file, today, only, types, alone))
        except InputError as error:
            unread.append((name, tuple(trouble.text() for trouble in error.troubles)))
    return reviews, unread


def _narrowed(names: Sequence[str]) -> tuple[str, ...]:
    """What a report says of a review of some rules only; nothing when all were asked for.

    Raises Refusal for a name that is neither a rule nor an area.
    """
    if not names:
        return ()
    from coldcheck.lint.engine.catalogue import cards

    rules = [card.rule for card in cards()]
    areas = sorted({rule.rpartition("/")[0] for rule in rules})
    wanted: set[str] = set()
    for name in names:
        meant = {rule for rule in rules if rule == name or rule.startswith(f"{name}/")}
        if not meant:
            raise Refusal(
                f"there is no rule or area {name!r}.{nearest(name, [*rules, *areas])} "
                "`coldcheck rules` lists them."
            )
        wanted |= meant
    left_out = "what the others would find is left out"
    return (f"only {len(wanted)} of {len(rules)} rules were asked for; {left_out}",)


def _report(
    reviews: Sequence[Review], unread: Sequence[Unread], options: argparse.Namespace
) -> str:
    if options.form == "json":
        from coldcheck.lint.reports import machine

        return machine.report(reviews, __version__, unread)
    if options.form == "sarif":
        from coldcheck.lint.reports import sarif

        return sarif.report(reviews, __version__, unread, os.getcwd(), options.passed)
    from coldcheck.lint.reports import console

    width, colour = use_width(options), use_colour(options)
    return "\n\n".join(console.report(one, width, colour, options.passed) for one in reviews)


def _may_write(target: str, files: Sequence[str]) -> None:
    """Refuse, before any work is done, to write over a document under review."""
    if os.path.isdir(target):
        raise Refusal(f"--to needs a file, and {target!r} is a folder")
    if os.path.realpath(target) in {os.path.realpath(file) for file in files}:
        raise Refusal(f"--to would overwrite the document {target!r}")


def _write(text: str, target: str | None) -> None:
    if target is None:
        sys.stdout.write(text)
        return
    try:
        with open(target, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except OSError as error:
        raise Refusal(f"the report could not be written to {target!r}: {error.strerror}") from None
    print(f"The report is in {target}.", file=sys.stderr)
