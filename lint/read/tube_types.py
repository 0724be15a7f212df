"""Tube types a builder writes himself, made into the same thing the shipped library holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Literal

from coldcheck.lint.model import DocumentPath
from coldcheck.lint.read.problems import Problems
from coldcheck.lint.read.tube_laws import laws_of
from coldcheck.schemas.quantity import QuantityError, parse
from coldcheck.schemas.rated import Rated, unit_of
from coldcheck.schemas.tube_entry import (
    CAPACITANCES,
    DIRECT,
    ELECTRODES,
    LIMITS,
    Cited,
    TubeEntry,
)
from coldcheck.schemas.tubes import (
    HeaterOption,
    TubeType,
    plain,
    sections_of,
    tube,
    tube_names,
)

PINS = {"b7g": 7, "b9a": 9, "octal": 8, "ux4": 4, "magnoval": 9}
MOST_PINS = 14
"""Of a base not in the table: more than any tube socket in audio use has."""
NEEDED = {
    "triode": ("plate", "grid"),
    "pentode": ("plate", "screen", "grid", "cathode"),
    "diode": ("plate",),
    "regulator": ("anode", "cathode"),
}
HEATED = ("heater", "heater_cathode", "filament")

Origin = Literal["project", "personal"]


class TubeTypes:
    """Types by name: the project's first, then the builder's own library, then the shipped one."""

    def __init__(self, own: Mapping[str, TubeType] = MappingProxyType({})) -> None:
        self._own = dict(own)
        """By :func:`plain` name."""

    def find(self, name: str) -> TubeType | None:
        """The type of that name; case, spaces and hyphens do not matter."""
        own = self._own.get(plain(name))
        return own if own is not None else tube(name)

    def names(self) -> tuple[str, ...]:
        """Every name there is."""
        return (*(kind.name for kind in self._own.values()), *tube_names())

    def own(self) -> Mapping[str, TubeType]:
        """Those that are not of the shipped library, by :func:`plain` name."""
        return self._own

    def with_entries(
        self, entries: Mapping[str, TubeEntry], origin: Origin, problems: Problems
    ) -> TubeTypes:
        """These and the entries of a ``[tubes]`` chapter, which come before them.

        What an entry is ``like`` is looked for among these, never among its neighbours, so that
        no circle can be written.
        """
        found: dict[str, TubeType] = {}
        for name, entry in entries.items():
            if plain(name) in found:
                twin = found[plain(name)].name
                expected = f"one name for each type; case and hyphens do not tell it from {twin}"
                problems.add(("tubes", name), f'"{name}"', expected, on_key=True)
                continue
            made = _Maker(name, entry, origin, problems).make(self.find, self.names)
            if made is not None:
                found[plain(name)] = made
        return TubeTypes({**self._own, **found})


class _Maker:
    """Makes one type of one entry; what cannot be goes to ``problems``."""

    def __init__(self, name: str, entry: TubeEntry, origin: Origin, problems: Problems) -> None:
        self.name, self.entry, self.origin, self.problems = name, entry, origin, problems
        self.path: DocumentPath = ("tubes", name)

    def make(
        self, find: Callable[[str], TubeType | None], names: Callable[[], tuple[str, ...]]
    ) -> TubeType | None:
        start = self.whole() if self.entry.like is None else self.like(find, names)
        if start is None:
            return None
        entry, count = self.entry, len(start.sections)
        if entry.pins:
            pins = self.pins(count)
            start = start._replace(
                basing="",
                pins=MappingProxyType(pins),
                pins_basis=entry.basis,
                pins_source=entry.source,
                sections=sections_of([one.kind for one in start.sections], pins),
            )
            if len(pins) == len(entry.pins):
                self.covered(start)
        if entry.heater or (entry.like is None and self.heated(start)):
            start = start._replace(heater=self.heater(start))
        laws = laws_of(self.entry, start, self.path, self.problems)
        limits = {
            **start.limits,
            **dict(self.values("limits", LIMITS, count)),
            **dict(self.direct()),
        }
        picofarads = dict(self.values("capacitance", CAPACITANCES, count))
        return start._replace(
            name=self.name,
            base=self.base() or start.base,
            limits=MappingProxyType(limits),
            capacitance=MappingProxyType({**start.capacitance, **picofarads}),
            supply_ohms=self.supply() if entry.supply_ohms else start.supply_ohms,
            law=MappingProxyType({**start.law, **laws}),
            aliases=(),
            near=(),
            note=entry.note or start.note,
            origin=self.origin,
            cited=entry.source,
        )

    def problem(
        self,
        path: DocumentPath,
        found: str,
        expected: str,
        word: str = "",
        known: tuple[str, ...] = (),
        on_key: bool = False,
    ) -> None:
        self.problems.add((*self.path, *path), found, expected, word, known, on_key)

    def like(
        self, find: Callable[[str], TubeType | None], names: Callable[[], tuple[str, ...]]
    ) -> TubeType | None:
        """The known type whose values hold where the entry has none."""
        like = self.entry.like or ""
        start = find(like)
        if start is None:
            expected = "a tube type that is known"
            self.problem(("like",), f'like = "{like}"', expected, like, names())
        elif self.entry.sections is not None:
            expected = f"no sections: they are those of {start.name}"
            self.problem(("sections",), "sections beside like", expected, on_key=True)
            return None
        return start

    def whole(self) -> TubeType | None:
        """A type of which nothing is known yet but its sections; None without what all need."""
        given = {"base": self.entry.base, "sections": self.entry.sections, "pins": self.entry.pins}
        lacking = [f'"{key}"' for key, value in given.items() if not value]
        if lacking:
            expected = 'it to be given, or like = "..." with a tube type that is known'
            self.problem((), f"{self.name} without {' and '.join(lacking)}", expected, on_key=True)
            return None
        kinds = self.entry.sections or []
        return TubeType(
            name=self.name,
            kind=" and ".join(dict.fromkeys(kinds)),
            base="",
            basing="",
            rating_system="as its source has it",
            heater=(),
            pins={},
            pins_basis=self.entry.basis,
            pins_source=self.entry.source,
            sections=sections_of(kinds, {}),
            limits={},
            capacitance={},
            supply_ohms=(),
            law=dict.fromkeys(range(1, len(kinds) + 1)),
            aliases=(),
            near=(),
            note="",
        )

    def base(self) -> str | None:
        """As the socket table spells it."""
        spelt = {"b7g": "B7G", "b9a": "B9A", "octal": "octal", "ux4": "UX4", "magnoval": "magnoval"}
        base = self.entry.base
        return None if base is None else spelt.get(base.casefold(), base)

    def pins(self, sections: int) -> dict[int, str]:
        most = PINS.get((self.entry.base or "").casefold(), MOST_PINS)
        known = [*ELECTRODES, *(f"{e}_{n + 1}" for e in ELECTRODES[:6] for n in range(sections))]
        found: dict[int, str] = {}
        for pin, electrode in self.entry.pins.items():
            path: DocumentPath = ("pins", pin)
            if not (pin.isascii() and pin.isdecimal() and 1 <= int(pin[:3]) <= most):
                self.problem(path, f'pin "{pin}"', f"a number from 1 to {most}", on_key=True)
            elif electrode not in known:
                expected = f"one of {', '.join(ELECTRODES)}; of a section plate_1, plate_2"
                self.problem(path, f'"{electrode}"', expected, electrode, tuple(known))
            else:
                found[int(pin)] = electrode
        return dict(sorted(found.items()))

    def covered(self, kind: TubeType) -> None:
        """Every electrode a section needs has a pin, and what is heated has two."""
        for section in kind.sections:
            needed = dict.fromkeys(NEEDED[section.kind])
            if not kind.directly_heated:
                needed |= {"cathode": None}
            lacking = [name for name in needed if name not in section.electrodes]
            if lacking:
                which = f" of section {section.number}" if len(kind.sections) > 1 else ""
                found = f"no pin for the {' and '.join(lacking)}{which}"
                self.problem(("pins",), found, "every electrode to have a pin", on_key=True)
        if self.heated(kind) and len(self.heated_pins(kind)) < 2:
            found, expected = "no two heated pins", "two pins for the heater or filament"
            self.problem(("pins",), found, expected, on_key=True)

    def heated(self, kind: TubeType) -> bool:
        return any(section.kind != "regulator" for section in kind.sections)

    def heated_pins(self, kind: TubeType) -> list[int]:
        return [pin for pin, electrode in kind.pins.items() if electrode in HEATED]

    def heater(self, kind: TubeType) -> tuple[HeaterOption, ...]:
        if not self.entry.heater:
            expected = 'it to be given, such as heater = [{ volts = "6.3 V", amperes = "300 mA" }]'
            self.problem((), f'{self.name} without "heater"', expected, on_key=True)
        ends, taps = self.heated_pins(kind), kind.pins_of("heater_tap")
        options = []
        for at, option in enumerate(self.entry.heater if len(ends) > 1 else ()):
            path: DocumentPath = ("heater", at)
            sides = option.between
            if sides is None:
                if len(ends) != 2 or taps:
                    expected = "between, such as [[4, 5], [9]]: more than one way is possible"
                    self.problem(path, "a heater of more than two pins", expected)
                    continue
                sides = [[ends[0]], [ends[1]]]
            pins = [pin for side in sides for pin in side]
            apart = len(set(pins)) == len(pins) and set(pins) <= {*ends, *taps}
            if len(sides) != 2 or not all(sides) or not apart:
                expected = "the heated pins of one side and of the other, such as [[4, 5], [9]]"
                self.problem((*path, "between"), "pins that are not two sides", expected)
                continue
            between = (tuple(sides[0]), tuple(sides[1]))
            known = self.entry.basis, self.entry.source
            options.append(HeaterOption(option.volts, option.amperes, *known, between))
        return tuple(options)

    # -- numbers -------------------------------------------------------------------------------

    def values(
        self, chapter: str, known: tuple[str, ...], sections: int
    ) -> Iterator[tuple[str, Rated]]:
        allowed = (*known, *(f"{name}_{n + 1}" for name in known for n in range(sections)))
        for name, value in getattr(self.entry, chapter).items():
            path: DocumentPath = (chapter, name)
            if name not in allowed:
                expected = f"one of {', '.join(known)}; of one section with _1 or _2 after it"
                self.problem(path, f'unknown value "{name}"', expected, name, allowed, True)
                continue
            rated = self.rated(path, value, "F" if chapter == "capacitance" else unit_of(name))
            if rated is not None:
                yield name, rated

    def rated(self, path: DocumentPath, value: str | Cited, unit: str) -> Rated | None:
        text = value if isinstance(value, str) else value.value
        where = path if isinstance(value, str) else (*path, "value")
        try:
            number = parse(text, unit)
        except QuantityError as fault:
            self.problem(where, f'{path[-1]} = "{fault.found}"', fault.expected)
            return None
        if number <= 0.0:
            self.problem(where, f'{path[-1]} = "{text}"', "more than zero")
            return None
        basis, source, note = self.entry.basis, self.entry.source, ""
        if isinstance(value, Cited):
            basis, source = value.basis or basis, value.source or source
            note = value.note
        return Rated(number, unit, basis, source, note)

    def direct(self) -> Iterator[tuple[str, Rated]]:
        """Limits that stand in the entry itself."""
        for name in DIRECT:
            number = getattr(self.entry, name)
            if number is None:
                continue
            if name in self.entry.limits:
                self.problem((name,), f"{name}, which limits has too", "it once", on_key=True)
            yield name, Rated(number, unit_of(name), self.entry.basis, self.entry.source)

    def supply(self) -> tuple[tuple[float, Rated], ...]:
        rows = []
        for volts, value in self.entry.supply_ohms.items():
            path: DocumentPath = ("supply_ohms", volts)
            try:
                at = parse(volts, "V")
            except QuantityError as fault:
                self.problem(path, f'"{fault.found}"', fault.expected, on_key=True)
                continue
            rated = self.rated(path, value, "ohm")
            if rated is not None:
                rows.append((at, rated))
        return tuple(sorted(rows, key=lambda row: row[0]))
