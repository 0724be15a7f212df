"""Numbers from the reference libraries, each with how well it is known and who says so."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import tomli

from coldcheck.schemas.quantity import parse

_LIBRARY = Path(__file__).with_name("library")

# Keys of a library end in what they measure: plate_volts, dc_amperes, first_capacitor_farads.
_UNITS = {
    "volts": "V",
    "amperes": "A",
    "watts": "W",
    "ohms": "ohm",
    "farads": "F",
    "seconds": "s",
    "hertz": "Hz",
    "metres": "m",
    "celsius": "degC",
    "ratio": "",
}


class Rated(NamedTuple):
    """A number in SI units; ``basis`` is in the words of :class:`coldcheck.lint.model.Basis`."""

    value: float
    unit: str
    basis: str
    source: str
    """Maker, document, edition, clause."""
    note: str = ""
    """A condition the number holds under."""


class Chapter:
    """One library file: its tables, and its sources by key."""

    def __init__(self, name: str) -> None:
        with open(_LIBRARY / f"{name}.toml", "rb") as file:
            self.tables: Mapping[str, Any] = tomli.load(file)
        self.sources: Mapping[str, Mapping[str, str]] = self.tables["sources"]

    def evidence(self, key: str) -> tuple[str, str]:
        """Basis and source text of a ``from`` key; of several, joined by ``+``, the first rules."""
        cited = [self.sources[one.strip()] for one in key.split("+")]
        return cited[0]["basis"], "; ".join(one["text"] for one in cited)

    def rated(self, entry: Mapping[str, Any], unit: str) -> Rated:
        """``{ value = "300 V", from = "KEY", note = "..." }``; plain numbers are in SI units."""
        value = entry["value"]
        number = parse(value, unit) if isinstance(value, str) else float(value)
        return Rated(number, unit, *self.evidence(entry["from"]), entry.get("note", ""))

    def named(self, name: str, entry: Mapping[str, Any]) -> Rated:
        """As :meth:`rated`, with the unit stated or taken from the name: ``plate_volts``."""
        return self.rated(entry, entry["unit"] if "unit" in entry else unit_of(name))


def unit_of(name: str) -> str:
    """The unit of a library key: the last word in it that names one.

    >>> unit_of("heater_cathode_volts_heater_negative")
    'V'
    """
    return next(_UNITS[word] for word in reversed(name.split("_")) if word in _UNITS)


@functools.cache
def chapter(name: str) -> Chapter:
    """The library file ``name``, read once, when first asked for."""
    return Chapter(name)
