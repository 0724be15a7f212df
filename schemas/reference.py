"""The reference libraries: what standards, makers and handbooks say, read when first asked for.

Tube types are in :mod:`coldcheck.schemas.tubes`, fuses in :mod:`coldcheck.schemas.fuses`; both are
offered here too.  A number that is not in a library is None, never a guess.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from typing import Any, NamedTuple

from coldcheck.schemas.fuses import (
    FuseItem,
    Gate,
    breaking_capacity,
    fuse_gates,
    fuse_item,
    fuse_ratings,
)
from coldcheck.schemas.quantity import parse, parse_gauge
from coldcheck.schemas.rated import Rated, chapter
from coldcheck.schemas.tubes import (
    HeaterOption,
    Section,
    TubeLaw,
    TubeType,
    tube,
    tube_like,
    tube_names,
)

__all__ = [
    "FuseItem",
    "Gate",
    "Grommet",
    "HeaterOption",
    "MainsRange",
    "Rated",
    "SafetyClass",
    "Section",
    "Socket",
    "TubeLaw",
    "TubeType",
    "WireStyle",
    "ampacity_for_area",
    "breaking_capacity",
    "bundle_ampacity",
    "bundle_derating",
    "bundle_diameter",
    "capacitor_safety_class",
    "capacitor_surge_ratio",
    "fact",
    "fuse_gates",
    "fuse_item",
    "fuse_ratings",
    "grommets",
    "mains_range",
    "mains_regions",
    "open_air_ampacity",
    "resistor_derating",
    "resistor_voltage_default",
    "socket",
    "tube",
    "tube_like",
    "tube_names",
    "wire_resistance",
    "wire_style",
]


class WireStyle(NamedTuple):
    """A listed hook-up wire style; volts are a.c. r.m.s., wall in metres."""

    name: str
    volts: float
    celsius: float
    wall: float
    material: str
    basis: str
    source: str


class Socket(NamedTuple):
    """What a tube socket takes out of the sheet, in metres."""

    base: str
    hole: Rated
    pin_circle: Rated | None
    screw_spacing: Rated | None


class MainsRange(NamedTuple):
    """The mains volts a region's standard allows."""

    region: str
    nominal: float
    least: float
    most: float
    hertz: tuple[float, ...]
    standard: str
    basis: str
    source: str


class SafetyClass(NamedTuple):
    """A class of interference-suppression capacitor, IEC 60384-14; volts, "" and None unknown."""

    name: str
    across: str
    volts: float | None
    impulse: float
    bridges: str
    basis: str
    source: str


class Grommet(NamedTuple):
    """A grommet size in metres; ``panel`` is the thickest sheet its groove takes."""

    family: str
    hole: float
    bore: float
    panel: float | None
    basis: str
    source: str


@functools.cache
def fact(library: str, name: str) -> Rated:
    """A single number of a library: ``fact("fuses", "toroid_inrush_most_ratio")``.

    library: fuses, wire, resistors, capacitors or grommets.  Raises KeyError for an unknown name.
    """
    book = chapter(library)
    return book.named(name, book.tables["facts"][name])


@functools.cache
def wire_style(name: str) -> WireStyle | None:
    """A listed style by name: ``UL1015``, ``ul 1015``, ``AWM 1015``."""
    book = chapter("wire")
    key = "UL" + name.casefold().replace(" ", "").removeprefix("ul").removeprefix("awm")
    entry = book.tables["styles"].get(key)
    if entry is None:
        return None
    return WireStyle(
        key,
        parse(entry["volts"], "V"),
        parse(entry["celsius"], "degC"),
        parse(entry["wall"], "m"),
        entry["material"],
        *book.evidence(entry["from"]),
    )


def bundle_ampacity(awg: int, celsius: int = 105) -> Rated | None:
    """Amperes of a wire in a bundle at 70 C around it, by gauge and class of insulation.

    awg: 10 to 24, even; celsius: 105, 150 or 200.  Source: FAA AC 43.13-1B table 11-9.
    """
    book = chapter("wire")
    for row in book.tables["ampacity"]["rows"]:
        if row["awg"] == awg and f"bundle_{celsius}" in row:
            amperes = parse(row[f"bundle_{celsius}"], "A")
            return Rated(amperes, "A", *book.evidence(row["from"]), f"{celsius} C insulation")
    return None


def ampacity_for_area(area: float, celsius: int = 105) -> Rated | None:
    """As :func:`bundle_ampacity` for a copper area in m2: that of the next smaller gauge tabled.

    None below 24 AWG; 10 AWG above it.
    """
    # 1 %: 0.2 mm2 of 24 AWG is sold rounded down.
    fits = [n for n in range(10, 25, 2) if parse_gauge(f"{n} AWG").area <= area * 1.01]
    return bundle_ampacity(min(fits), celsius) if fits else None


def open_air_ampacity(awg: int) -> Rated | None:
    """Amperes of a single wire in open air, a rule of thumb; never for use inside a chassis."""
    book = chapter("wire")
    for row in book.tables["ampacity"]["rows"]:
        if row["awg"] == awg:
            return Rated(
                parse(row["open_air"], "A"), "A", *book.evidence(row["open_air_from"]), "one wire"
            )
    return None


def bundle_derating(wires: int) -> Rated:
    """Share of the single-wire current each of a few bundled wires may carry; the last row holds
    for any more."""
    book = chapter("wire")
    table = book.tables["bundle_derating"]
    share = next((share for n, share in reversed(table["rows"]) if n <= wires), 1.0)
    return Rated(share, "", *book.evidence(table["from"]))


def bundle_diameter(wires: int, diameter: float) -> float:
    """Diameter over a bundle of equal round wires, in the unit of ``diameter``.

    Exact for up to seven, the best packings known for up to twelve, and above that 1.2 sqrt(n),
    which is larger than any packing known.
    """
    if wires <= 0:
        return 0.0
    tables = chapter("wire").tables
    rows = dict(tables["bundle_diameter"]["rows"] + tables["larger_bundle_diameter"]["rows"])
    return diameter * float(rows.get(wires, 1.2 * math.sqrt(wires)))


def wire_resistance(area: float, celsius: float = 20.0) -> float:
    """Ohm per metre of a copper conductor of ``area`` m2: rho / A, rising 0.393 % per kelvin."""
    rise = fact("wire", "copper_temperature_coefficient_20c").value * (celsius - 20.0)
    return fact("wire", "copper_resistivity_20c").value / area * (1.0 + rise)


def socket(base: str) -> Socket | None:
    """The socket of a base: B7G, B9A, B9A_shielded, octal, UX4, magnoval."""
    book = chapter("sockets")
    entry = book.tables["bases"].get(base)
    if entry is None:
        return None
    sizes = {name: book.rated(entry[name], "m") for name in entry}
    return Socket(base, sizes["hole"], sizes.get("pin_circle"), sizes.get("screw_spacing"))


def resistor_voltage_default(watts: float, style: str = "film") -> Rated | None:
    """Highest working volts of a resistor whose maker is not known, by its rated power.

    style: film, oxide, carbon composition.  None for other styles and below the smallest row.
    """
    book = chapter("resistors")
    found = None
    for table in book.tables["volts"]:
        for row in table["rows"]:
            if table["style"] == style and parse(row["watts"], "W") <= watts * (1.0 + 1e-9):
                found = book.rated(row, "V")
    return found


def resistor_derating(style: str) -> tuple[Rated, Rated] | None:
    """Temperature up to which full power is allowed, and that at which none is, in degC.

    style: film, oxide, carbon composition, wirewound.
    """
    book = chapter("resistors")
    entry = book.tables["derating"].get(style)
    if entry is None:
        return None
    evidence = book.evidence(entry["from"])
    full, zero = (parse(entry[end], "degC") for end in ("full", "zero"))
    note = entry.get("note", "")
    return Rated(full, "degC", *evidence, note), Rated(zero, "degC", *evidence, note)


def capacitor_surge_ratio(rated_volts: float) -> Rated:
    """Surge volts over rated volts of an aluminium electrolytic whose maker is not known."""
    book = chapter("capacitors")
    row = next(
        row
        for row in book.tables["surge"]
        if "to" not in row or rated_volts <= parse(row["to"], "V")
    )
    return book.rated(row, "")


def capacitor_safety_class(name: str) -> SafetyClass | None:
    """A class of IEC 60384-14: X1, X2, Y1, Y2 or Y4."""
    book = chapter("capacitors")
    entry: Mapping[str, Any] | None = book.tables["safety"].get(name.upper())
    if entry is None:
        return None
    return SafetyClass(
        name.upper(),
        entry["across"],
        parse(entry["volts"], "V") if "volts" in entry else None,
        parse(entry["impulse"], "V"),
        entry.get("bridges", ""),
        *book.evidence(entry["from"]),
    )


def mains_regions() -> tuple[str, ...]:
    """Regions that :func:`mains_range` knows."""
    return tuple(chapter("mains").tables["regions"])


def mains_range(region: str) -> MainsRange | None:
    """The mains volts allowed in a region, by its name in :func:`mains_regions`."""
    book = chapter("mains")
    for name, entry in book.tables["regions"].items():
        if name.casefold() == region.casefold():
            return MainsRange(
                name,
                parse(entry["nominal"], "V"),
                parse(entry["least"], "V"),
                parse(entry["most"], "V"),
                tuple(parse(text, "Hz") for text in entry["hertz"]),
                entry["standard"],
                *book.evidence(entry["from"]),
            )
    return None


@functools.cache
def grommets() -> tuple[Grommet, ...]:
    """Common grommet sizes, smallest hole first; for suggestions only."""
    book = chapter("grommets")
    rows = book.tables["sizes"]["rows"]
    made = (
        Grommet(
            row["family"],
            parse(row["hole"], "m"),
            parse(row["bore"], "m"),
            parse(row["panel"], "m") if "panel" in row else None,
            *book.evidence(row["from"]),
        )
        for row in rows
    )
    return tuple(sorted(made, key=lambda one: (one.hole, one.bore)))
