"""Writes channels out and resolves every reference of a checked document into a design.

:func:`resolve` answers with a :class:`~coldcheck.lint.design.Design`, or with the problems found,
each tied to a place in the document.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coldcheck.schemas.reference import TubeType, tube

from coldcheck.lint.design import METAL, Design, PartUse, Use, WireUse, natural, socket_pins, tie_points
from coldcheck.lint.model import DocumentPath
from coldcheck.schemas.build import Seat, Wire
from coldcheck.schemas.document import Document
from coldcheck.schemas.parts import AnyPart, ChassisBond, GroundBus, TerminalStrip, Tube


@dataclass(frozen=True, slots=True)
class Problem:
    """Something a document says that cannot be: where, what was found, what would do."""

    path: DocumentPath
    found: str
    expected: str
    on_key: bool = False


class _Builder:
    def __init__(self, document: Document, raw: Mapping[str, Any]) -> None:
        self.document = document
        self.raw = raw
        self.problems: list[Problem] = []
        self.specs: dict[str, tuple[AnyPart, DocumentPath]] = {}
        self.types: dict[str, TubeType | None] = {}

    # -- names ---------------------------------------------------------------------------------

    def trouble(self, path: DocumentPath, found: str, expected: str, on_key: bool = False) -> None:
        self.problems.append(Problem(path, found, expected, on_key))

    def tie_point(self, text: str, path: DocumentPath) -> str | None:
        """Resolve "V1.5" or "E1" to a tie point; report it when there is no such point."""
        ref, _dot, name = text.partition(".")
        if ref not in self.specs:
            near = difflib.get_close_matches(ref, self.specs, 1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            self.trouble(
                path, f'"{text}": there is no part {ref}', f"a tie point of a listed part{hint}"
            )
            return None
        points = tie_points(self.specs[ref][0], self.types.get(ref))
        if not name and len(points) == 1:
            return f"{ref}.{points[0]}"
        if name not in points:
            kind = self.types.get(ref)
            pin = _electrode_pin(kind, name, None)
            if pin is not None:
                return f"{ref}.{pin}"
            self.trouble(
                path, f'"{text}": {ref} has no point "{name}"', f"one of {_listed(points)}"
            )
            return None
        return f"{ref}.{name}"

    def ends(
        self, ref: str, given: object, path: DocumentPath, section: int | None = None
    ) -> dict[str, tuple[str, DocumentPath]]:
        """Resolve one entry of a table of ends to terminal -> (name as written, its place)."""
        spec = self.specs[ref][0]
        terminals = spec.terminals()
        if isinstance(given, str):
            given = [given]
            if len(terminals) != 1:
                self.trouble(path, f"one name for {ref}", f"{len(terminals)}: {_listed(terminals)}")
                return {}
            return {terminals[0]: (given[0], path)}
        if isinstance(given, list):
            if isinstance(spec, Tube | TerminalStrip | GroundBus):
                self.trouble(path, f"a list for {ref}", "names by pin or lug, such as { 1 = ... }")
                return {}
            return self._in_order(ref, terminals, given, path)
        assert isinstance(given, dict)
        found: dict[str, tuple[str, DocumentPath]] = {}
        for name, value in given.items():
            here = (*path, name)
            group = tuple(t for t in terminals if t.startswith(f"{name}."))
            if isinstance(value, list):
                if not group:
                    self.trouble(here, f'a list for "{name}"', f"a winding of {ref}", True)
                else:
                    found |= self._in_order(f"{ref} {name}", group, value, here)
            elif isinstance(spec, Tube):
                pin = _electrode_pin(self.types.get(ref), name, section)
                if pin is None:
                    pins = [str(p) for p in socket_pins(self.types.get(ref))]
                    self.trouble(here, f'pin "{name}" of {ref}', f"one of {_listed(pins)}", True)
                else:
                    found[str(pin)] = (value, here)
            elif name in terminals:
                found[name] = (value, here)
            elif len(group) == 1:
                found[group[0]] = (value, here)
            else:
                near = difflib.get_close_matches(name, terminals, 1)
                hint = f'; did you mean "{near[0]}"?' if near else ""
                self.trouble(
                    here, f'terminal "{name}" of {ref}', f"one of {_listed(terminals)}{hint}", True
                )
        return found

    def _in_order(
        self, what: str, terminals: tuple[str, ...], given: list[str], path: DocumentPath
    ) -> dict[str, tuple[str, DocumentPath]]:
        if len(given) != len(terminals):
            self.trouble(
                path,
                f"{len(given)} name(s) for {what}",
                f"{len(terminals)}, in this order: {_listed(terminals)}",
            )
            return {}
        return {
            terminal: (name, (*path, at))
            for at, (terminal, name) in enumerate(zip(terminals, given, strict=True))
        }

    # -- the parts of the work -----------------------------------------------------------------

    def gather_parts(self) -> None:
        document = self.document
        for ref, spec in document.parts.items():
            self.specs[ref] = (spec, ("parts", ref))
        if document.channel is not None:
            for ref, spec in document.channel.parts.items():
                for letter in document.channel.names:
                    twin = ref + letter
                    if twin in self.specs:
                        self.trouble(
                            ("channel", "parts", ref),
                            f"{ref} makes {twin}, which is listed already",
                            "a reference that is free in every channel",
                            True,
                        )
                    self.specs[twin] = (spec, ("channel", "parts", ref))
        for ref, (spec, _path) in self.specs.items():
            if isinstance(spec, Tube):
                entry = document.tubes.get(spec.type)
                self.types[ref] = tube(entry.like if entry is not None else spec.type)

    def known(self, ref: str, path: DocumentPath) -> bool:
        if ref in self.specs:
            return True
        near = difflib.get_close_matches(ref, self.specs, 1)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        self.trouble(path, f"{ref}, which is not a listed part", f"a part from [parts]{hint}", True)
        return False

    def table(self, chapter: str) -> dict[str, dict[str, tuple[str, DocumentPath]]]:
        """Resolve [schematic] or [leads], channels included: part -> terminal -> (name, place)."""
        found: dict[str, dict[str, tuple[str, DocumentPath]]] = {}
        for ref, given in getattr(self.document, chapter).items():
            path: DocumentPath = (chapter, ref)
            if self.known(ref, path):
                found[ref] = self.ends(ref, given, path)
        channel = self.document.channel
        if channel is None:
            return found
        for ref, given in getattr(channel, chapter).items():
            path = ("channel", chapter, ref)
            for letter in channel.names:
                own = ref in channel.parts
                twin = ref + letter if own else ref
                if not self.known(twin, path):
                    break
                section = None if own else channel.sections.get(ref, {}).get(letter)
                if not own and section is None:
                    self.trouble(
                        path,
                        f"{ref} in a channel, but it is one part for all channels",
                        f"{ref} in [channel.parts], or its sections in channel.sections.{ref}",
                        True,
                    )
                    break
                entry = {
                    terminal: (self.in_channel(name, letter, chapter), where)
                    for terminal, (name, where) in self.ends(twin, given, path, section).items()
                }
                found[twin] = found.get(twin, {}) | entry
        return found

    def in_channel(self, name: str, letter: str, chapter: str) -> str:
        """What a name written in the channel means in the channel ``letter``."""
        channel = self.document.channel
        assert channel is not None
        if chapter == "schematic":
            return name if name in channel.common or name == METAL else f"{name} {letter}"
        ref, dot, point = name.partition(".")
        if ref in channel.parts:
            return f"{ref}{letter}{dot}{point}"
        section = channel.sections.get(ref, {}).get(letter)
        pin = _electrode_pin(self.types.get(ref), point, section) if section else None
        return f"{ref}.{pin}" if pin is not None else name

    def wire(self, ref: str, spec: Wire, path: DocumentPath, letter: str = "") -> WireUse | None:
        kind = self.document.wire_types.get(spec.type)
        if kind is None:
            near = difflib.get_close_matches(spec.type, self.document.wire_types, 1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            self.trouble(
                (*path, "type"), f'wire type "{spec.type}"', f"one from [wire_types]{hint}"
            )
        run = [
            self.tie_point(
                self.in_channel(point, letter, "wires") if letter else point, (*path, "run", at)
            )
            for at, point in enumerate(spec.run)
        ]
        through = (spec.through,) if isinstance(spec.through, str) else tuple(spec.through or ())
        for hole in through:
            self.hole(hole, (*path, "through"))
        if kind is None or None in run:
            return None
        return WireUse(ref, spec, kind, path, tuple(p for p in run if p is not None), through)

    def hole(self, hole: str, path: DocumentPath) -> None:
        if hole not in self.document.holes:
            near = difflib.get_close_matches(hole, self.document.holes, 1)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            self.trouble(path, f'hole "{hole}"', f"one from [holes]{hint}")

    def wires(self) -> dict[str, WireUse]:
        found: dict[str, WireUse] = {}
        for ref, spec in self.document.wires.items():
            use = self.wire(ref, spec, ("wires", ref))
            if use is not None:
                found[ref] = use
        channel = self.document.channel
        for ref, spec in (channel.wires if channel is not None else {}).items():
            for letter in channel.names if channel is not None else ():
                use = self.wire(ref + letter, spec, ("channel", "wires", ref), letter)
                if use is not None:
                    found[ref + letter] = use
        for use in found.values():
            if use.spec.twist is not None and use.spec.twist not in found:
                self.trouble((*use.path, "twist"), f'wire "{use.spec.twist}"', "one from [wires]")
        return found

    def seats(self) -> dict[str, Seat]:
        for ref, seat in self.document.layout.items():
            path: DocumentPath = ("layout", ref)
            if self.known(ref, path) and seat.leads_through is not None:
                by_winding = seat.leads_through
                names = [by_winding] if isinstance(by_winding, str) else list(by_winding.values())
                for hole in names:
                    self.hole(hole, (*path, "leads_through"))
        return dict(self.document.layout)

    def build(self) -> Design | None:
        self.gather_parts()
        schematic = self.table("schematic")
        leads = self.table("leads")
        wires = self.wires()
        seats = self.seats()
        landed = {
            ref: {t: self.tie_point(name, path) for t, (name, path) in entry.items()}
            for ref, entry in leads.items()
        }
        if self.problems:
            return None
        parts: dict[str, PartUse] = {}
        nets: dict[str, list[tuple[str, str]]] = {}
        for ref in sorted(self.specs, key=natural):
            spec, path = self.specs[ref]
            ends = schematic.get(ref, {})
            base = ("schematic", ref) if ref in self.document.schematic else path
            if self.document.channel is not None and base == path and path[0] == "channel":
                base = ("channel", "schematic", path[2])
            parts[ref] = Use(
                ref,
                spec,
                path,
                {terminal: net for terminal, (net, _path) in ends.items()},
                base if ends else path,
                {t: point for t, point in landed.get(ref, {}).items() if point is not None},
                seats.get(ref),
                self.types.get(ref),
            )
            for terminal, (net, _path) in ends.items():
                nets.setdefault(net, []).append((ref, terminal))
            if isinstance(spec, ChassisBond):
                nets.setdefault(METAL, []).append((ref, METAL))
        return Design(
            self.document,
            self.raw,
            parts,
            {net: tuple(nets[net]) for net in sorted(nets)},
            {ref: wires[ref] for ref in sorted(wires, key=natural)},
            {hole: self.document.holes[hole] for hole in sorted(self.document.holes, key=natural)},
        )


def _listed(names: tuple[str, ...] | list[str]) -> str:
    return ", ".join(names) if names else "nothing: it has no terminals of its own"


def _electrode_pin(kind: TubeType | None, name: str, section: int | None) -> int | None:
    """Pin of a socket by its number, or by electrode name within a section of the tube."""
    if name.isascii() and name.isdigit():
        pin = int(name)
        return pin if pin in socket_pins(kind) else None
    if kind is None:
        return None
    wanted = [s for s in kind.sections if section is None or s.number == section]
    if section is None and len(wanted) != 1:
        return None
    return wanted[0].electrodes.get(name) if wanted else None


def resolve(document: Document, raw: Mapping[str, Any]) -> tuple[Design | None, list[Problem]]:
    """Resolve a document; the design is None when there are problems."""
    builder = _Builder(document, raw)
    design = builder.build()
    return design, builder.problems
