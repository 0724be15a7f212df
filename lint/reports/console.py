"""The report a builder reads: plain sentences in order of gravity.

Meaning never rests on colour or on position: the signal word is spelled out, every figure has
its label on its own line, and a log file or a screen reader loses nothing.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from coldcheck.lint.model import Crash, Datum, Finding, Review, Signal
from coldcheck.lint.printing import clean, figure, limit, source
from coldcheck.lint.reports import words
from coldcheck.lint.reports.words import Waiting, count, sentence

# Red, orange, yellow and blue panels of ANSI Z535.4 (from memory), on the word alone.
_SIGNAL_STYLE = {
    Signal.DANGER: "bold bright_white on red",
    Signal.WARNING: "bold black on color(208)",
    Signal.CAUTION: "bold black on yellow",
    Signal.NOTICE: "bold bright_white on blue",
    Signal.NOTE: "bold",
}
_LEAST_WIDTH = 40
_LABEL = 11


def report(review: Review, width: int = 80, colour: bool = False, passed: bool = False) -> str:
    """The review as text, no line wider than ``width`` cells (40 at least).

    ``colour`` adds ANSI escapes to words only; ``passed`` lists what passed and which rules had
    nothing to judge, instead of counting them.
    """
    page = _Page(width, colour)
    _opening(page, review)
    _findings(page, words.live(review))
    _waiting(page, words.waiting(review))
    _accepted(page, words.accepted(review))
    _quiet(page, review, passed)
    _crashes(page, review.crashes)
    page.heading("Verdict")
    page.paragraph(clean(words.verdict(review)))
    page.heading("Caution")
    page.paragraph(words.CAUTION)
    return page.text()


class _Page:
    """Lines of text, wrapped to a width, with hanging labels.

    A hook's report is plain and nearly always ASCII, which the standard library wraps; rich, as
    long to load as a design to solve, comes in for colour and for characters of other widths.
    """

    def __init__(self, width: int, colour: bool) -> None:
        self.width = max(width, _LEAST_WIDTH)
        self.colour = colour
        self._lines: list[str] = []

    def text(self) -> str:
        return "".join(f"{line}\n" for line in self._lines)

    def gap(self) -> None:
        self._lines.append("")

    def heading(self, text: str) -> None:
        self.gap()
        self.paragraph(text, indent=0, style="bold")

    def paragraph(
        self, text: str, indent: int = 2, style: str = "", marked: int | None = None
    ) -> None:
        """Wrapped text; every line is indented alike.

        ``style`` is that of its first ``marked`` characters, which are one word, or of all of it.
        """
        for line in _wrapped(text, self.width - indent):
            first = line[:marked]
            self._lines.append(" " * indent + self._styled(first, style) + line[len(first) :])
            marked, style = (0, "") if marked is not None else (None, style)

    def labelled(self, label: str, lines: Iterable[str]) -> None:
        """A label and its text, which hangs clear of it."""
        head = f"{label}:".ljust(_LABEL)
        for line in lines:
            for piece in _wrapped(line, self.width - 4 - _LABEL):
                self._lines.append(f"    {head}{piece}".rstrip())
                head = " " * _LABEL

    def _styled(self, text: str, style: str) -> str:
        if not (self.colour and style and text):
            return text
        from rich.color import ColorSystem
        from rich.style import Style

        return Style.parse(style).render(text, color_system=ColorSystem.EIGHT_BIT)


def _wrapped(text: str, width: int) -> list[str]:
    """The text in lines of at most ``width`` cells."""
    if text.isascii():
        return textwrap.wrap(
            text, width, break_on_hyphens=False, replace_whitespace=False, drop_whitespace=True
        ) or [""]
    from rich.console import Console
    from rich.text import Text

    return [line.plain.rstrip() for line in Text(text).wrap(Console(_environ={}), width)]


def _opening(page: _Page, review: Review) -> None:
    name = clean(review.project) or "an unnamed project"
    revision = f", revision {clean(review.revision)}" if review.revision else ""
    page.paragraph(f"Review of {name}{revision}", indent=0, style="bold")
    size = ", ".join(
        (count(review.parts, "part"), count(review.nets, "net"), count(review.wires, "wire"))
    )
    page.paragraph(f"{clean(review.file)}: {size}", indent=0)
    for note in review.notes:
        page.paragraph(f"Remark: {sentence(clean(note))}", indent=0)


def _say(page: _Page, signal: Signal, text: str, mark: str = "") -> None:
    said = f"{signal.name}{mark}: {sentence(text)}"
    page.paragraph(said, style=_SIGNAL_STYLE[signal], marked=len(signal.name))


def _findings(page: _Page, findings: tuple[Finding, ...]) -> None:
    if not findings:
        return
    page.heading("Findings, gravest first")
    for finding in findings:
        page.gap()
        _finding(page, finding)


def _finding(page: _Page, finding: Finding) -> None:
    mark = "" if finding.accepted is None else ", accepted"
    _say(page, finding.signal, clean(finding.says), mark)
    _numbers(page, finding)
    _where(page, finding)
    if finding.remedy:
        page.labelled("Remedy", [sentence(clean(finding.remedy))])
    page.labelled("Working", map(clean, finding.working))
    page.labelled(
        "Rests on",
        [f"{clean(datum.what)}, {datum.basis.value}" for datum in _weak(finding)],
    )
    page.labelled("Rule", [clean(finding.rule)])


def _numbers(page: _Page, finding: Finding) -> None:
    held = "; ".join(_held(finding))
    if held:
        page.labelled("Computed" if finding.value is not None else "Limit", [held])
    if finding.state:
        page.labelled("State", [clean(finding.state)])


def _held(finding: Finding) -> list[str]:
    """The computed figure and what it is held against, so far as they are known."""
    held = [figure(finding.value)] if finding.value is not None else []
    if finding.limit is not None:
        bound = f"{limit(finding.limit)} ({source(finding.limit.source)})"
        held.append(f"limit {bound}" if held else bound)
    return held


def _where(page: _Page, finding: Finding) -> None:
    kind, name = clean(finding.about.kind), clean(finding.about.name)
    about = name if name.endswith(kind) else f"{kind} {name}"
    others = ", ".join(clean(other.name) for other in finding.others)
    at = f"{clean(str(finding.place))}, {about}" if finding.place is not None else about
    page.labelled("Where", [f"{at}, with {others}" if others else at])


def _weak(finding: Finding) -> list[Datum]:
    return [datum for datum in finding.rests_on if datum.basis.weak]


def _waiting(page: _Page, entries: tuple[Waiting, ...]) -> None:
    if not entries:
        return
    page.heading("Not judged, for want of a datum")
    for entry in entries:
        page.gap()
        _say(page, entry.signal, _wants(entry))
        page.labelled("Rules", [", ".join(map(clean, entry.rules))] if len(entry.rules) > 1 else [])
        page.labelled("Data", ["; ".join(map(clean, entry.data))] if len(entry.data) > 1 else [])
        page.labelled("Because", [sentence(clean(said)) for said in entry.says[:3]])
        if entry.places:
            more = len(entry.places) - 1
            others = f" and {count(more, 'other place')}" if more else ""
            page.labelled("Where", [f"{clean(str(entry.places[0]))}{others}"])
        if entry.subjects != entry.data:
            page.labelled("About", [", ".join(map(clean, entry.subjects))])


def _wants(entry: Waiting) -> str:
    """One line, however many rules want the same thing or things one rule wants."""
    data = f"{len(entry.data)} data" if len(entry.data) > 1 else clean(entry.data[0])
    if len(entry.rules) == 1:
        return f"rule {clean(entry.rules[0])} waits for {data}"
    return f"{len(entry.rules)} rules wait for {data}"


def _accepted(page: _Page, findings: tuple[Finding, ...]) -> None:
    if not findings:
        return
    page.heading("Accepted by the designer")
    for finding in findings:
        page.gap()
        _finding(page, finding)
        if finding.accepted is not None:
            kept = finding.accepted
            until = f", until {clean(kept.until)}" if kept.until else ""
            page.labelled("Accepted", [f"by {clean(kept.by)}, {clean(kept.date)}{until}"])
            page.labelled("Reason", [sentence(clean(kept.reason))])


def _crashes(page: _Page, crashes: tuple[Crash, ...]) -> None:
    if not crashes:
        return
    page.heading("Rules that failed")
    page.paragraph(
        "The fault is in coldcheck or a rule pack, not in the design; the review is incomplete."
    )
    for crash in crashes:
        page.gap()
        page.paragraph(f"{clean(crash.rule)}: {clean(crash.error)}")
        page.labelled("Where", [clean(crash.where)])


def _quiet(page: _Page, review: Review, listed: bool) -> None:
    """What raised nothing: counted in a line each, or listed when asked."""
    page.heading("Passed")
    page.paragraph(words.passed(review))
    if listed:
        by_rule: dict[str, list[Finding]] = {}
        for finding in review.passes:
            by_rule.setdefault(finding.rule, []).append(finding)
        for rule in sorted(by_rule):
            page.gap()
            page.paragraph(clean(rule))
            for finding in by_rule[rule]:
                page.paragraph(_cleared(finding), indent=4)
    if review.not_applicable:
        page.gap()
        names = f": {', '.join(map(clean, sorted(review.not_applicable)))}" if listed else ""
        had = f"{count(len(review.not_applicable), 'rule')} had nothing to judge{names}."
        page.paragraph(had)


def _cleared(finding: Finding) -> str:
    held = [*_held(finding), clean(finding.state)] if finding.state else _held(finding)
    return f"{clean(finding.about.name)}: {'; '.join(held) or 'nothing found'}"
