"""A hand-made review that holds every outcome; the names and figures are invented."""

from __future__ import annotations

import math

from coldcheck.lint.model import (
    Accepted,
    Basis,
    Card,
    Crash,
    Datum,
    Figure,
    Finding,
    Harm,
    Kind,
    Limit,
    Place,
    Review,
    Signal,
    Source,
    Subject,
)

TOUCH = Source("touch-dc", "IEC 62368-1:2018, 5.2.2.2, ES1", Basis.MEMORY)
BOND = Source("bond", "IEC 61010-1:2010, 6.5.2.4", Basis.STANDARD)
LEAK = Source("leak", "data sheet of the 6V6GT, 1955", Basis.DATA_SHEET)
HABIT = Source("habit", "grommet in every hole", Basis.PRACTICE)

EARTH = Card(
    rule="earth/fixed-path",
    title="Every exposed metal part reaches the earth pin through fixed conductors",
    harm=Harm.KILLS,
    why="A fault from the mains side to the chassis must blow the fuse, not wait for a hand.",
    sources=(BOND, HABIT),
    needs=("wiring", "chassis"),
)
OUTPUT = Card(
    rule="accessible/output-voltage",
    title="No accessible terminal carries a voltage that shocks",
    harm=Harm.KILLS,
    why="""
        A leaky coupling capacitor puts HT on the output jack.
        Nobody expects it there.
    """,
    sources=(TOUCH,),
    needs=("operating points",),
    states=("cold start", "warm idle"),
)
STORED = Card(
    rule="stored-energy/slow-discharge",
    title="A reservoir keeps its charge after switch-off",
    harm=Harm.FAULT_KILLS,
    why="The mains lead is out and a hand goes in.",
    sources=(TOUCH,),
    needs=("discharge",),
    states=("off",),
)
GRID = Card(
    rule="tubes/grid-leak",
    title="The grid-circuit resistance is within the tube's limit",
    harm=Harm.WEARS,
    why="Grid current runs the tube away.",
    sources=(LEAK,),
    needs=("tubes",),
)
PUNCH = Card(
    rule="holes/one-punch",
    title="Holes that could be one size are one size",
    harm=Harm.UNTIDY,
    why="Each size is a tool.",
    sources=(),
    needs=(),
)


def subject(name: str, kind: str = "part") -> Subject:
    return Subject(kind, name, (f"{kind}s", name))


def at(line: int, length: int = 2) -> Place:
    return Place("projects/porch light.toml", line, 1, line, 1 + length)


def fail(
    card: Card, signal: Signal, name: str, line: int | None, says: str, **more: object
) -> Finding:
    place = None if line is None else at(line)
    return Finding(card.rule, card.title, Kind.FAIL, signal, subject(name), place, says, **more)  # type: ignore[arg-type]


def waits(card: Card, signal: Signal, name: str, line: int, datum: str, says: str = "") -> Finding:
    return Finding(
        card.rule, card.title, Kind.OPEN, signal, subject(name), at(line), says, datum=datum
    )


def passes(card: Card, name: str, **more: object) -> Finding:
    return Finding(
        card.rule,
        card.title,
        Kind.PASS,
        Signal.NOTE,
        subject(name),
        None,
        "",
        **more,  # type: ignore[arg-type]
    )


JACK = fail(
    OUTPUT,
    Signal.DANGER,
    "J3",
    41,
    "the output jack J3 carries 412 V while V2 is cold, because C9 is its only barrier and leaks",
    remedy="fit a 220 kohm resistor from J3 to ground: it holds the jack below 1 V",
    value=Figure(412.0, "V"),
    limit=Limit(Figure(60.0, "V"), TOUCH),
    state="cold start, mains high",
    others=(subject("C9"), subject("out", "net")),
    working=("325 V x 1.1 x 1.414 = 506 V at the reservoir", "506 V less 94 V across R7 = 412 V"),
    rests_on=(
        Datum("secondary resistance of T1", Basis.ASSUMED),
        Datum("value of R7", Basis.DECLARED),
    ),
    rank=93.1,
)
SLOW = fail(
    STORED,
    Signal.WARNING,
    "C3",
    22,
    "C3 stays above 60 V for good after switch-off",
    remedy="fit 220 kohm, 2 W straight across C3: it falls to 50 V in 24 s",
    value=Figure(math.inf, "s"),
    limit=Limit(Figure(60.0, "s"), HABIT),
    state="off, standby open",
    rank=100.0,
)
LEAKY = fail(
    GRID,
    Signal.CAUTION,
    "V2",
    30,
    "the grid circuit of V2 has 1 Mohm",
    remedy="use 470 kohm or less for R8",
    value=Figure(1e6, "ohm"),
    limit=Limit(Figure(5e5, "ohm"), LEAK),
    rank=75.0,
)
KEPT = fail(
    GRID,
    Signal.CAUTION,
    "V3",
    31,
    "the grid circuit of V3 has 680 kohm",
    remedy="use 470 kohm or less for R9",
    rank=63.2,
    accepted=Accepted("Tried with six tubes for a year", "K.B.", "2026-03-01", "2027-03-01"),
)
TIDY = fail(PUNCH, Signal.NOTE, "H1", None, "holes H1 and H4 are 12 mm and 12.5 mm", rank=50.0)


def review() -> Review:
    """Every outcome there is."""
    return Review(
        file="projects/porch light.toml",
        project="Porch Light",
        revision="B",
        findings=(JACK, SLOW, LEAKY, KEPT, TIDY),
        opens=(
            waits(EARTH, Signal.DANGER, "chassis", 1, "[wires]"),
            waits(EARTH, Signal.DANGER, "T1", 12, "[wires]"),
            waits(PUNCH, Signal.NOTE, "chassis", 1, "[wires]"),
            waits(
                STORED,
                Signal.WARNING,
                "C4",
                23,
                "the resistance of winding ht of T1",
                "without it the time constant is unknown",
            ),
        ),
        passes=(
            passes(OUTPUT, "J1", value=Figure(0.0, "V"), limit=Limit(Figure(60.0, "V"), TOUCH)),
            passes(GRID, "V1", state="warm idle"),
            Finding(
                "supply/node-voltage",
                "Nodes are where the designer said",
                Kind.PASS,
                Signal.NOTE,
                subject("B1", "net"),
                None,
                "",
                value=Figure(285.0, "V"),
            ),
        ),
        not_applicable=("mains/x-capacitor", "feedback/sign"),
        crashes=(Crash("hum/loop-area", "ZeroDivisionError: division by zero", "loop_area.py:31"),),
        cards={card.rule: card for card in (EARTH, OUTPUT, STORED, GRID, PUNCH)},
        notes=("the library entry 6V6GT is overridden by the project",),
        parts=41,
        nets=27,
        wires=0,
    )


def spotless() -> Review:
    """Nothing found, nothing open."""
    return Review(
        file="quiet.toml",
        project="Quiet",
        revision="",
        findings=(),
        opens=(),
        passes=(passes(GRID, "V1"),),
        not_applicable=(),
        crashes=(),
        cards={GRID.rule: GRID},
        parts=1,
    )


HOSTILE = "\x1b[2J[red]\u202egnp.exe\x9b\n"


def hostile() -> Review:
    """Texts that would clear a screen, recolour it or reverse a line if printed as they are."""
    finding = Finding(
        HOSTILE,
        HOSTILE,
        Kind.FAIL,
        Signal.DANGER,
        Subject(HOSTILE, HOSTILE, ("parts", HOSTILE)),
        Place(HOSTILE, 1, 1, 1, 2),
        HOSTILE,
        remedy=HOSTILE,
        value=Figure(1.0, HOSTILE),
        limit=Limit(Figure(1.0, HOSTILE), Source(HOSTILE, HOSTILE, Basis.MEMORY)),
        state=HOSTILE,
        others=(Subject(HOSTILE, HOSTILE, ()),),
        working=(HOSTILE,),
        rests_on=(Datum(HOSTILE, Basis.MEMORY),),
        accepted=Accepted(HOSTILE, HOSTILE, HOSTILE, HOSTILE),
    )
    opened = Finding(
        HOSTILE,
        HOSTILE,
        Kind.OPEN,
        Signal.DANGER,
        Subject(HOSTILE, HOSTILE, ()),
        None,
        HOSTILE,
        datum=HOSTILE * 2,
    )
    return Review(
        file=HOSTILE,
        project=HOSTILE,
        revision=HOSTILE,
        findings=(finding,),
        opens=(opened,),
        passes=(
            Finding(
                "b" + HOSTILE,
                HOSTILE,
                Kind.PASS,
                Signal.NOTE,
                Subject(HOSTILE, HOSTILE, ()),
                None,
                HOSTILE,
                state=HOSTILE,
            ),
        ),
        not_applicable=(HOSTILE,),
        crashes=(Crash(HOSTILE, HOSTILE, HOSTILE),),
        cards={HOSTILE: Card(HOSTILE, HOSTILE, Harm.KILLS, HOSTILE, (), (HOSTILE,), (HOSTILE,))},
        notes=(HOSTILE,),
        parts=1,
        nets=1,
        wires=1,
    )
