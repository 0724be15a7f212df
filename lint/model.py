"""What a review says: places, figures, verdicts, findings.  Frozen, standard library only.

Records here and throughout are named tuples: making a frozen dataclass costs eight times as much
at import, and a review loads a hundred of them.

Rules yield verdicts (:class:`Fail`, :class:`Open`, :class:`Pass`); the engine turns them into
the findings of a :class:`Review`; reports read a finished review and compute nothing.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

DocumentPath = tuple[str | int, ...]


class Signal(enum.IntEnum):
    """Signal words of ANSI Z535.4 and ISO 3864-2, extended downward by NOTE for tidiness."""

    NOTE = 1
    NOTICE = 2
    CAUTION = 3
    WARNING = 4
    DANGER = 5


class Harm(enum.Enum):
    """What comes of it; the author of a rule picks one, :mod:`coldcheck.lint.signal` ranks it."""

    KILLS = "built as drawn, touching it is likely to kill, or it burns"
    FAULT_KILLS = "one foreseeable fault, or ordinary servicing, can kill or start a fire"
    OVERHEATS = "a part runs hotter than its rating allows"
    WEARS = "a part is destroyed or wears out early"
    UNDERPERFORMS = "it survives but does not do its job well"
    UNTIDY = "tidiness, economy, documentation"


class Basis(enum.Enum):
    """How well a number is known."""

    DATA_SHEET = "data sheet"
    MEASURED = "measured"
    STANDARD = "standard"
    DERIVED = "derived"
    DECLARED = "stated in the document"
    PRACTICE = "common practice, no source"
    ASSUMED = "assumed"
    MEMORY = "from memory"

    @property
    def weak(self) -> bool:
        """Whether the number may raise a finding but may not clear a grave rule."""
        return self in (Basis.ASSUMED, Basis.MEMORY)


class Kind(enum.Enum):
    """Outcome of a rule on a subject, in the vocabulary of SARIF 2.1.0 ``kind``."""

    FAIL = "fail"
    PASS = "pass"
    OPEN = "open"
    NOT_APPLICABLE = "notApplicable"


class Source(NamedTuple):
    """Where a number or rule comes from: document, edition, clause; never a bare address."""

    key: str
    text: str
    basis: Basis


class Figure(NamedTuple):
    """A number in SI units with its unit symbol: ``Figure(0.00085, "A")`` reads 850 uA."""

    value: float
    unit: str


class Limit(NamedTuple):
    """The number a computed figure is held against, and who says so."""

    figure: Figure
    source: Source
    most: bool = True
    """True when the limit is an upper bound, False when it is a lower bound."""


class Datum(NamedTuple):
    """A number something was computed from, named so that a reader can go and improve it."""

    what: str
    basis: Basis


class Subject(NamedTuple):
    """A thing in the design: a part, net, wire, hole, or the document itself."""

    kind: str
    name: str
    path: DocumentPath

    def __str__(self) -> str:
        return self.name


class Fail(NamedTuple):
    """A rule's limit is broken on a subject."""

    about: Subject
    says: str
    """One sentence a builder understands: names the part and a number with its unit."""
    remedy: str
    """What to do, with a number in it."""
    value: Figure | None = None
    limit: Limit | None = None
    state: str = ""
    """The state it occurs in: "mains high", "cold start, mains high", ... or "" when in all."""
    others: tuple[Subject, ...] = ()
    working: tuple[str, ...] = ()
    """The numbers used, so that it can be checked by hand."""
    rests_on: tuple[Datum, ...] = ()
    exceeds: float | None = None
    """How far past the limit, 1.0 = at it; taken from value and limit when left out."""
    harm: Harm | None = None
    """Overrides the harm on the card where one rule sees two kinds."""


class Open(NamedTuple):
    """A rule cannot judge a subject: which datum is missing, and where it would be written."""

    about: Subject
    datum: str
    where: DocumentPath = ()
    says: str = ""


class Pass(NamedTuple):
    """A rule had all its facts on a subject and found nothing."""

    about: Subject
    value: Figure | None = None
    limit: Limit | None = None
    state: str = ""
    rests_on: tuple[Datum, ...] = ()


Verdict = Fail | Open | Pass


class Place(NamedTuple):
    """A spot in a file; line and column count from 1, in characters; ``end_*`` is exclusive."""

    file: str
    line: int
    column: int
    end_line: int
    end_column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


class Card(NamedTuple):
    """What a rule is: shown by listings and pages, read from one place."""

    rule: str
    """The rule's name, from its path: ``stored-energy/slow-discharge``."""
    title: str
    harm: Harm
    why: str
    sources: tuple[Source, ...]
    needs: tuple[str, ...]
    """The facts it looks at, in words."""
    states: tuple[str, ...] = ()
    """The states it judges, in words."""


class Accepted(NamedTuple):
    """A finding the designer has considered and keeps."""

    reason: str
    by: str
    date: str
    until: str = ""


class Finding(NamedTuple):
    """One verdict, placed in the file and given its signal word; what reports print."""

    rule: str
    title: str
    kind: Kind
    signal: Signal
    """The word of a fail; of an open: the gravest word the rule could have said."""
    about: Subject
    place: Place | None
    says: str
    remedy: str = ""
    value: Figure | None = None
    limit: Limit | None = None
    state: str = ""
    others: tuple[Subject, ...] = ()
    working: tuple[str, ...] = ()
    rests_on: tuple[Datum, ...] = ()
    datum: str = ""
    """For an open: what is missing."""
    rank: float = 0.0
    accepted: Accepted | None = None


class Crash(NamedTuple):
    """A rule failed to run: our fault, or a pack's, never the builder's."""

    rule: str
    error: str
    where: str


class Review(NamedTuple):
    """A finished review of one document."""

    file: str
    project: str
    revision: str
    findings: tuple[Finding, ...]
    """Fails, gravest first."""
    opens: tuple[Finding, ...]
    passes: tuple[Finding, ...]
    not_applicable: tuple[str, ...]
    """Rules that found nothing to judge."""
    crashes: tuple[Crash, ...]
    cards: Mapping[str, Card] = MappingProxyType({})
    notes: tuple[str, ...] = ()
    """Facts about the review itself: library entries overridden, packs that did not load."""
    parts: int = 0
    nets: int = 0
    wires: int = 0


class Missing(Exception):
    """A fact cannot be made: names the datum, and where in the document it would be written."""

    def __init__(self, datum: str, where: DocumentPath = (), about: Subject | None = None) -> None:
        super().__init__(datum)
        self.datum = datum
        self.where = where
        self.about = about


class NothingToJudge(Exception):
    """A fact has no subject in this design, by what the design is: its rules stay silent.

    The mains side of a battery-fed preamplifier, say.  Not for what the document leaves out:
    that is :class:`Missing`.
    """
