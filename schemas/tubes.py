"""Tube types: ratings, pins, heaters and current laws, from the library file ``tubes.toml``."""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from coldcheck.schemas.quantity import parse
from coldcheck.schemas.rated import Rated, chapter

FORMS: Mapping[str, tuple[str, ...]] = {
    "koren": ("mu", "ex", "kg1", "kp", "kvb"),
    "reefman": ("mu", "ex", "kg1", "kg2", "kp", "beta", "plate_pull"),
    "three-halves": ("perveance",),
}
"""Parameters of each form of law."""
LAW_OF = {"triode": "koren", "pentode": "reefman", "diode": "three-halves"}
_ELECTRODES = ("plate", "grid", "screen", "suppressor", "cathode", "anode")


class HeaterOption(NamedTuple):
    """One way to feed a heater or filament."""

    volts: float
    amperes: float
    basis: str
    source: str
    between: tuple[tuple[int, ...], tuple[int, ...]] | None
    """The pins of each side, those of a side joined; None while the pins are unknown."""


class Section(NamedTuple):
    """One of the tubes in a bulb."""

    number: int
    kind: str
    """``triode``, ``pentode`` (beam tubes too), ``diode`` or ``regulator`` (gas-filled)."""
    electrodes: Mapping[str, int]
    """Electrode to pin, the lowest where an electrode has several; names as in
    :attr:`TubeType.pins` without the section number.  A directly heated tube has no cathode."""


class TubeLaw(NamedTuple):
    """Parameters of a current law, and how well they meet the published rows.

    ``koren``: mu, ex, kg1, kp, kvb of a triode; ``reefman``: mu, ex, kg1, kg2, kp, beta,
    plate_pull of a pentode; ``three-halves``: perveance in A / V ** 1.5, of a diode.
    """

    form: str
    parameters: Mapping[str, float]
    rows: int
    """Published rows fitted; a law fitted to one row meets it by construction."""
    worst: Mapping[str, float]
    """Largest relative error by quantity: plate_current, transconductance, ..."""
    rows_held: int
    """Published rows kept out of the fit."""
    held: Mapping[str, float]
    """As ``worst``, over those."""
    basis: str
    source: str


class TubeType(NamedTuple):
    """A tube type.  What is absent is unknown, not zero."""

    name: str
    kind: str
    base: str
    """The socket it needs: B7G, B9A, octal, UX4."""
    basing: str
    """EIA basing code, "" when unknown."""
    rating_system: str
    heater: tuple[HeaterOption, ...]
    pins: Mapping[int, str]
    """Pin to electrode: plate, grid, screen, suppressor, cathode, anode, heater, heater_tap,
    heater_cathode, filament, shield, nc (not connected) or ic (internal connection, not to be
    used).  Twin types: plate_1, plate_2, ...  Pins of one name, heaters apart, are joined inside.
    A pin that is not there is not listed."""
    pins_basis: str
    pins_source: str
    sections: tuple[Section, ...]
    limits: Mapping[str, Rated]
    """plate_volts, plate_watts, plate_watts_both, screen_volts, screen_watts, cathode_amperes,
    heater_cathode_volts_heater_negative, grid_leak_fixed_ohms, peak_inverse_volts, ..."""
    capacitance: Mapping[str, Rated]
    """grid_plate, grid_cathode, plate_cathode of triodes; input, output of pentodes."""
    supply_ohms: tuple[tuple[float, Rated], ...]
    """Rectifiers: a.c. volts of each plate, and the least resistance in series with it."""
    law: Mapping[int, TubeLaw | None]
    """By section number; None where none is known."""
    aliases: tuple[str, ...]
    near: tuple[str, ...]
    """Types that fit the same circuits but differ in a limit or heater."""
    note: str
    origin: Literal["library", "project", "personal"] = "library"
    """Whose word it is: the shipped library's, the project's, or the builder's own library's."""
    cited: str = ""
    """What such an entry names as its source."""

    @property
    def from_memory(self) -> bool:
        """Whether its pins, heater and limits are all recalled and none was read."""
        known = [self.pins_basis, *(option.basis for option in self.heater)]
        known += [rated.basis for rated in self.limits.values()]
        return set(known) == {"from memory"}

    @property
    def directly_heated(self) -> bool:
        """Whether the filament is the cathode."""
        return "filament" in self.pins.values()

    def limit(self, name: str, section: int | None = None) -> Rated | None:
        """A limit of one section, or the one all sections share."""
        own = self.limits.get(f"{name}_{section}")
        return own if own is not None else self.limits.get(name)

    def pins_of(self, electrode: str) -> tuple[int, ...]:
        """Every pin of an electrode, by its name in :attr:`pins`."""
        return tuple(pin for pin, name in self.pins.items() if name == electrode)

    def least_supply_ohms(self, plate_volts: float) -> Rated | None:
        """Least series resistance per plate at an a.c. plate voltage, between rows by
        proportion; None above the last row or without rows."""
        below: tuple[float, Rated] | None = None
        for volts, ohms in self.supply_ohms:
            if plate_volts <= volts:
                if below is None or plate_volts == volts:
                    return ohms
                share = (plate_volts - below[0]) / (volts - below[0])
                value = below[1].value + share * (ohms.value - below[1].value)
                return Rated(value, "ohm", ohms.basis, ohms.source, "between two rows")
            below = volts, ohms
        return None


def tube(type_name: str) -> TubeType | None:
    """The tube type of that name or alias, or None.

    Case, spaces and hyphens do not matter: ``6sl7-gt`` is ``6SL7GT``.
    """
    name = _names().get(plain(type_name))
    return None if name is None else _tube(name)


def tube_like(type_name: str) -> TubeType | None:
    """A type that is near the one named, for a suggestion: its limits or heater differ."""
    wanted = plain(type_name)
    for name, entry in chapter("tubes").tables["tubes"].items():
        if wanted in map(plain, entry.get("near", ())):
            return _tube(name)
    return None


def tube_names() -> tuple[str, ...]:
    """Every type and alias, sorted."""
    tubes = chapter("tubes").tables["tubes"]
    aliases = (alias for entry in tubes.values() for alias in entry.get("alias", ()))
    return tuple(sorted({*tubes, *aliases}))


def plain(name: str) -> str:
    """A type's name as it is compared: case, spaces and hyphens do not matter."""
    return name.casefold().replace(" ", "").replace("-", "")


@functools.cache
def _names() -> Mapping[str, str]:
    tubes = chapter("tubes").tables["tubes"]
    names = {plain(alias): name for name in tubes for alias in tubes[name].get("alias", ())}
    return {**names, **{plain(name): name for name in tubes}}


@functools.cache
def _tube(name: str) -> TubeType:
    book = chapter("tubes")
    entry: Mapping[str, Any] = book.tables["tubes"][name]
    written = dict(entry.get("pins", {}))
    pins_basis, pins_source = book.evidence(written.pop("from", "memory"))
    pins = {int(pin): electrode for pin, electrode in written.items()}
    sections = sections_of(entry["sections"], pins)
    supply = ((parse(volts, "V"), ohms) for volts, ohms in entry.get("supply_ohms", {}).items())
    return TubeType(
        name=name,
        kind=entry["kind"],
        base=entry["base"],
        basing=entry.get("basing", {}).get("code", ""),
        rating_system=entry["rating_system"]["value"],
        heater=tuple(_heater(option) for option in entry.get("heater", ())),
        pins=MappingProxyType(pins),
        pins_basis=pins_basis,
        pins_source=pins_source,
        sections=sections,
        limits=MappingProxyType({k: book.named(k, v) for k, v in entry["limits"].items()}),
        capacitance=MappingProxyType(
            {k: book.rated(v, "F") for k, v in entry.get("capacitance", {}).items()}
        ),
        supply_ohms=tuple(sorted((volts, book.rated(ohms, "ohm")) for volts, ohms in supply)),
        law=MappingProxyType({s.number: _law(entry.get("law"), s.number) for s in sections}),
        aliases=tuple(entry.get("alias", ())),
        near=tuple(entry.get("near", ())),
        note=entry.get("note", ""),
    )


def sections_of(kinds: Sequence[str], pins: Mapping[int, str]) -> tuple[Section, ...]:
    """The sections of a bulb by kind, with the pins of each."""
    return tuple(
        Section(number, kind, MappingProxyType(_electrodes(pins, number)))
        for number, kind in enumerate(kinds, start=1)
    )


def _electrodes(pins: Mapping[int, str], number: int) -> dict[str, int]:
    """Electrodes of one section: its own, and those all sections share."""
    found: dict[str, int] = {}
    for pin in sorted(pins):
        name, _, section = pins[pin].partition("_")
        if pins[pin] == "heater_cathode":
            name, section = "cathode", ""
        if name in _ELECTRODES and section in ("", str(number)):
            found.setdefault(name, pin)
    return found


def _heater(option: Mapping[str, Any]) -> HeaterOption:
    between = option.get("between")
    return HeaterOption(
        parse(option["volts"], "V"),
        parse(option["amperes"], "A"),
        *chapter("tubes").evidence(option["from"]),
        (tuple(between[0]), tuple(between[1])) if between else None,
    )


def _law(entry: Any, section: int) -> TubeLaw | None:
    """The law of a section: the one for all of them, or its own of several."""
    several = entry if isinstance(entry, list) else [entry]
    mine = [one for one in several if one is not None and one.get("section", section) == section]
    return _law_from(mine[0]) if mine else None


def _law_from(entry: Mapping[str, Any]) -> TubeLaw:
    book = chapter("tubes")
    if entry["form"] == "three-halves":
        drop = entry["drop"]
        basis, source = book.evidence(drop["from"])
        stated = f"derived from a drop of {drop['volts']} at {drop['amperes']}: {source}"
        # What rests on memory stays weak however it is worked out.
        known = basis if basis == "from memory" else "derived"
        parameters = {"perveance": float(entry["perveance"])}
        return TubeLaw("three-halves", MappingProxyType(parameters), 1, {}, 0, {}, known, stated)
    names = (*FORMS["koren"], *FORMS["reefman"])
    worst = {k.removeprefix("worst_"): v for k, v in entry.items() if k.startswith("worst_")}
    held = {k.removeprefix("held_"): v for k, v in entry.items() if k.startswith("held_")}
    return TubeLaw(
        entry["form"],
        MappingProxyType({name: float(entry[name]) for name in names if name in entry}),
        entry["rows"],
        MappingProxyType(worst),
        entry.get("rows_held", 0),
        MappingProxyType(held),
        *book.evidence(entry["from"]),
    )
