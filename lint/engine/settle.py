"""From what rules said to findings: signal words, places, acceptances, order."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence

from coldcheck.lint.design import natural
from coldcheck.lint.engine.catalogue import ACCEPTANCE
from coldcheck.lint.model import (
    Accepted,
    Card,
    Datum,
    DocumentPath,
    Fail,
    Finding,
    Kind,
    Open,
    Pass,
    Place,
    Signal,
    Subject,
    Verdict,
)
from coldcheck.lint.signal import exceedance, gravest, rank, signal_word
from coldcheck.schemas.site import Accept

Locate = Callable[[DocumentPath], Place | None]


def findings(
    said: Sequence[tuple[str, Verdict]], cards: Mapping[str, Card], locate: Locate
) -> list[Finding]:
    """Every verdict as a finding, unordered."""
    return [_finding(cards[rule], verdict, locate) for rule, verdict in said]


def _finding(card: Card, verdict: Verdict, locate: Locate) -> Finding:
    place = locate(verdict.about.path)
    word = gravest(card.harm)
    if isinstance(verdict, Fail):
        return Finding(
            rule=card.rule,
            title=card.title,
            kind=Kind.FAIL,
            signal=signal_word(verdict.harm or card.harm, exceedance(verdict)),
            about=verdict.about,
            place=place,
            says=verdict.says,
            remedy=verdict.remedy,
            value=verdict.value,
            limit=verdict.limit,
            state=verdict.state,
            others=verdict.others,
            working=verdict.working,
            rests_on=_once(verdict.rests_on),
            rank=rank(verdict),
        )
    if isinstance(verdict, Pass):
        weak = [datum.what for datum in _once(verdict.rests_on) if datum.basis.weak]
        if weak and word >= Signal.WARNING:
            # an assumed or remembered value may raise a grave finding but never clear one
            verdict = Open(
                verdict.about,
                f"a figure that is not assumed or remembered: {', '.join(weak)}",
                verdict.about.path,
            )
        else:
            return Finding(
                rule=card.rule,
                title=card.title,
                kind=Kind.PASS,
                signal=word,
                about=verdict.about,
                place=place,
                says="",
                value=verdict.value,
                limit=verdict.limit,
                state=verdict.state,
                rests_on=_once(verdict.rests_on),
            )
    return Finding(
        rule=card.rule,
        title=card.title,
        kind=Kind.OPEN,
        signal=word,
        about=verdict.about,
        place=(locate(verdict.where) if verdict.where else None) or place,
        says=verdict.says,
        datum=verdict.datum,
    )


def _once(data: tuple[Datum, ...]) -> tuple[Datum, ...]:
    """Four tubes of one type rest on one model."""
    return tuple(dict.fromkeys(data))


def accept(
    found: Sequence[Finding],
    accepts: Sequence[Accept],
    today: datetime.date,
    judged: Callable[[str], bool | None],
    locate: Locate,
) -> list[Finding]:
    """Mark accepted findings; add one for each acceptance that is expired, unused or unknown.

    ``judged`` tells of a rule's name whether it was run, and None when there is no such rule:
    an acceptance of a rule that was not run cannot be called unused.
    """
    marked: list[Finding] = []
    used: set[int] = set()
    for finding in found:
        for at, entry in enumerate(accepts):
            expired = entry.until is not None and entry.until < today
            same = (entry.rule, entry.about) == (finding.rule, finding.about.name)
            if same and finding.kind is Kind.FAIL:
                used.add(at)
                if not expired:
                    until = entry.until.isoformat() if entry.until is not None else ""
                    note = Accepted(entry.reason, entry.by, entry.date.isoformat(), until)
                    finding = _with(finding, note)
                    break
        marked.append(finding)
    for at, entry in enumerate(accepts):
        expired = entry.until is not None and entry.until < today
        if at in used and not expired:
            continue
        if judged(entry.rule) is False:
            continue
        if at in used:
            says = f"the acceptance of {entry.rule} on {entry.about} expired on {entry.until}"
            remedy = "mend the fault, or look at it again and write a new date"
        elif judged(entry.rule) is None:
            says = f"an acceptance names {entry.rule}, which is not a rule"
            remedy = "take the name from `coldcheck rules`"
        else:
            says = f"the acceptance of {entry.rule} on {entry.about} matches no finding"
            remedy = "delete it"
        about = Subject("acceptance", f"{entry.rule} on {entry.about}", ("accept", at))
        fail = Fail(about=about, says=says, remedy=remedy)
        marked.append(_finding(ACCEPTANCE, fail, locate))
    return marked


def _with(finding: Finding, note: Accepted) -> Finding:
    return finding._replace(accepted=note)


def order(found: Sequence[Finding]) -> list[Finding]:
    """Gravest first, then by rank, then by rule and part, so that the same input reads the same."""
    return sorted(
        found,
        key=lambda f: (-f.signal, -f.rank, f.rule, natural(f.about.name), f.says, f.datum),
    )
