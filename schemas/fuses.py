"""Miniature fuses: how long they carry and when they open, from the library ``fuses.toml``."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from coldcheck.schemas.quantity import parse
from coldcheck.schemas.rated import Rated, chapter


class Gate(NamedTuple):
    """At ``multiple`` times its rating a fuse carries at least ``t_min`` seconds, and has opened
    after ``t_max``; 0 and infinity where the standard sets no bound."""

    multiple: float
    t_min: float
    t_max: float
    basis: str
    source: str


class FuseItem(NamedTuple):
    """A fuse of one make, typical of its sheet."""

    rating: float
    i2t: float
    """Nominal melting integral in A2s."""
    cold_ohms: float
    drop_volts: float | None
    """Greatest drop at rated current."""
    basis: str
    source: str


@functools.cache
def fuse_gates(
    standard: str | None,
    sheet: int | None,
    speed: str | None,
    breaking: str | None,
    rating: float,
) -> tuple[Gate, ...]:
    """Time-current gates by rising multiple, for a rating in amperes.

    standard: ``IEC 60127-2`` or ``UL 248-14``; sheet: 1, 2, 3, 5; speed: ``F`` or ``T``; breaking:
    ``L`` or ``H``.  What is None leaves several sheets possible; then each gate is widened to what
    any of them allows: the earliest it may open for inrush, the latest for clearing a fault.  A
    multiple that one of them does not state is left out.  Empty when nothing is known.
    """
    wanted = {"standard": standard, "sheet": sheet, "speed": speed, "breaking": breaking}
    tables = [table for table in chapter("fuses").tables["gates"] if _fits(table, wanted, rating)]
    by_sheet: dict[tuple[Any, ...], list[Gate]] = {}
    for table in tables:
        key = (table["standard"], table.get("sheet"), table["speed"], table.get("breaking"))
        # Two ranges that meet at a rating are one sheet: the first holds.
        by_sheet.setdefault(key, [_gate(row) for row in table["rows"]])
    if not by_sheet:
        return ()
    first, *others = by_sheet.values()
    found = []
    for gate in first:
        same = [g for gates in others for g in gates if g.multiple == gate.multiple]
        if len(same) == len(others):
            found.append(_widest([gate, *same]))
    return tuple(sorted(found, key=lambda gate: gate.multiple))


@functools.cache
def fuse_item(
    standard: str | None,
    sheet: int | None,
    rating: float,
    speed: str | None = None,
    breaking: str | None = None,
) -> FuseItem | None:
    """A typical fuse of that sheet and rating in amperes, or None.

    Where several sheets are possible, the one with the smallest melting integral: it is the first
    to open on inrush.  Known for sheet 3 from 0.2 to 6.3 A and sheet 5 from 1 to 2 A.
    """
    book = chapter("fuses")
    wanted = {"standard": standard, "sheet": sheet, "speed": speed, "breaking": breaking}
    found: list[FuseItem] = []
    for table in book.tables["items"]:
        if not _matches(table, wanted):
            continue
        for row in table["rows"]:
            if math.isclose(parse(row["current"], "A"), rating, rel_tol=1e-6):
                found.append(
                    FuseItem(
                        rating,
                        parse(row["i2t"], "A2s"),
                        parse(row["cold"], "ohm"),
                        parse(row["drop"], "V") if "drop" in row else None,
                        *book.evidence(row["from"]),
                    )
                )
    return min(found, key=lambda item: item.i2t, default=None)


def breaking_capacity(
    letter: str | None, rating: float, standard: str = "IEC 60127-2"
) -> Rated | None:
    """Greatest current in amperes that the fuse is sure to break at 250 V a.c.

    letter: L, E or H of IEC 60127; ignored for ``UL 248-14``.
    """
    book = chapter("fuses")
    if standard == "UL 248-14":
        for row in book.tables["breaking_ul"]["rows"]:
            if rating <= parse(row["to"], "A"):
                return book.rated(row, "A")
        return None
    entry = book.tables["breaking"].get(letter)
    if entry is None:
        return None
    amperes = max(parse(entry["least"], "A"), float(entry["times"] * rating))
    return Rated(amperes, "A", *book.evidence(entry["from"]), f"at {entry['volts']}")


@functools.cache
def fuse_ratings() -> tuple[float, ...]:
    """Nominal ratings of 5 x 20 mm fuses in amperes, rising."""
    return tuple(parse(text, "A") for text in chapter("fuses").tables["ratings"]["value"])


def _matches(table: Mapping[str, Any], wanted: Mapping[str, Any]) -> bool:
    return all(value is None or table.get(name) == value for name, value in wanted.items())


def _fits(table: Mapping[str, Any], wanted: Mapping[str, Any], rating: float) -> bool:
    least, most = (parse(text, "A") for text in table["current"])
    # A trace of slack: 3.15 A may arrive as 3.1500000000000004.
    return _matches(table, wanted) and least * (1 - 1e-9) <= rating <= most * (1 + 1e-9)


def _gate(row: Mapping[str, Any]) -> Gate:
    return Gate(
        float(row["multiple"]),
        parse(row["least"], "s") if "least" in row else 0.0,
        parse(row["most"], "s") if "most" in row else math.inf,
        *chapter("fuses").evidence(row["from"]),
    )


def _widest(gates: Iterable[Gate]) -> Gate:
    gates = list(gates)
    # One bound from memory makes the whole gate no better than memory.
    weakest = next((gate for gate in gates if gate.basis == "from memory"), gates[0])
    return Gate(
        gates[0].multiple,
        min(gate.t_min for gate in gates),
        max(gate.t_max for gate in gates),
        weakest.basis,
        "; ".join(dict.fromkeys(gate.source for gate in gates)),
    )
