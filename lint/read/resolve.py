"""Writes channels out and resolves every reference of a checked document into a design.

:func:`resolve` answers with a :class:`~coldcheck.lint.design.Design`, or with the problems found,
each tied to a place in the document.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Container, Mapping

from coldcheck.lint.design import METAL, Design, PartUse, Use, WireUse, natural
from coldcheck.lint.model import DocumentPath
from coldcheck.lint.read.ends import Written, electrode_pin, names_in, resolved, tie_point
from coldcheck.lint.read.problems import Problem, Problems
from coldcheck.lint.read.tube_types import TubeTypes
from coldcheck.schemas.build import Wire
from coldcheck.schemas.document import Channel, Document, Ends
from coldcheck.schemas.parts import (
    AnyPart,
    ChassisBond,
    Tube,
    Wound,
)
from coldcheck.schemas.reference import TubeType

NO_CHANNEL = Channel.model_construct(names=[])
"""What a document without a channel has: nothing, used no times."""


class _Builder:
    def __init__(self, document: Document, types: TubeTypes) -> None:
        self.document = document
        self.known_types = types
        self.channel = document.channel or NO_CHANNEL
        self.problems = Problems()
        self.specs: dict[str, tuple[AnyPart, DocumentPath]] = {}
        self.types: dict[str, TubeType | None] = {}

    def build(self) -> Design | None:
        entries = self.document.tubes
        self.known_types = self.known_types.with_entries(entries, "project", self.problems)
        if self.problems.found:
            return None  # every pin of such a tube would be one more trouble
        self.gather_parts()
        self.check_sections()
        self.check_nets()
        schematic = self.table("schematic")
        leads = self.table("leads")
        wires = self.wires()
        self.check_seats()
        self.check_names()
        landed = {
            ref: {t: self.point(name, path) for t, (name, path) in entry.items()}
            for ref, entry in leads.items()
        }
        nets = {net for entry in schematic.values() for net, _path in entry.values()}
        for net in self.document.expect:
            if net not in nets and net != METAL:
                self.problems.add(
                    ("expect", net), f'net "{net}"', "a net of [schematic]", net, nets, on_key=True
                )
        return None if self.problems.found else self.design(schematic, landed, wires)

    def design(
        self,
        schematic: dict[str, Written],
        landed: dict[str, dict[str, str]],
        wires: dict[str, WireUse],
    ) -> Design:
        parts: dict[str, PartUse] = {}
        nets: dict[str, list[tuple[str, str]]] = {}
        for ref in sorted(self.specs, key=natural):
            spec, path = self.specs[ref]
            written = schematic.get(ref, {})
            ends = {terminal: written[terminal][0] for terminal in sorted(written, key=natural)}
            shared: DocumentPath = ("schematic", ref)
            own: DocumentPath = ("channel", "schematic", path[-1])
            if path[0] == "parts":
                own = ("channel", "schematic", ref)
            where = shared if ref in self.document.schematic else own
            parts[ref] = Use(
                ref,
                spec,
                path,
                ends,
                where if ends else path,
                landed.get(ref, {}),
                self.document.layout.get(ref),
                self.types.get(ref),
            )
            for terminal, net in ends.items():
                nets.setdefault(net, []).append((ref, terminal))
            if isinstance(spec, ChassisBond):
                nets.setdefault(METAL, []).append((ref, METAL))
        holes = self.document.holes
        return Design(
            self.document,
            parts,
            {net: tuple(nets[net]) for net in sorted(nets)},
            {ref: wires[ref] for ref in sorted(wires, key=natural)},
            {hole: holes[hole] for hole in sorted(holes, key=natural)},
        )

    # -- parts ---------------------------------------------------------------------------------

    def gather_parts(self) -> None:
        for ref, spec in self.document.parts.items():
            self.specs[ref] = (spec, ("parts", ref))
        for ref, spec in self.channel.parts.items():
            path: DocumentPath = ("channel", "parts", ref)
            for letter in self.channel.names:
                self.free(ref, ref + letter, self.specs, path)
                self.specs[ref + letter] = (spec, path)
        for ref, spec in self.channel.unlike.items():
            path = ("channel", "unlike", ref)
            written = self.specs.get(ref)
            if written is None or written[1][:2] != ("channel", "parts"):
                twins = [r + letter for r in self.channel.parts for letter in self.channel.names]
                expected = "a part of a channel, with its letter"
                self.problems.add(path, f'"{ref}"', expected, ref, twins, on_key=True)
            elif written[0].kind != spec.kind:
                expected = f"a {written[0].kind}, as the other channel has"
                self.problems.add((*path, "kind"), f'kind "{spec.kind}"', expected)
            else:
                self.specs[ref] = (spec, path)
        for ref, (spec, _path) in self.specs.items():
            if isinstance(spec, Tube):
                self.types[ref] = self.known_types.find(spec.type)

    def free(self, ref: str, twin: str, taken: Container[str], path: DocumentPath) -> None:
        if twin in taken:
            self.problems.add(
                path,
                f"{ref}, which makes {twin}, and {twin} is there already",
                "a reference that is free in every channel",
                on_key=True,
            )

    def check_sections(self) -> None:
        """Shared tubes of a channel: each has the section named, for a channel there is."""
        for ref, by_letter in self.channel.sections.items():
            path: DocumentPath = ("channel", "sections", ref)
            if not self.known(ref, path):
                continue
            if not isinstance(self.specs[ref][0], Tube):
                self.problems.add(path, f"{ref}, which is no tube", "a shared tube", on_key=True)
                continue
            kind = self.types[ref]
            sections = [] if kind is None else [section.number for section in kind.sections]
            for letter, number in by_letter.items():
                if letter not in self.channel.names:
                    names = ", ".join(self.channel.names)
                    self.problems.add(
                        (*path, letter), f'channel "{letter}"', f"one of {names}", on_key=True
                    )
                if sections and number not in sections:
                    have = ", ".join(map(str, sections))
                    self.problems.add(
                        (*path, letter), f"section {number} of {ref}", f"one of {have}"
                    )

    def check_nets(self) -> None:
        """Common nets are used; a private net does not bear the name of a net outside."""
        private = dict(reversed(list(names_in(self.channel.schematic, ("channel", "schematic")))))
        outside = {name for name, _path in names_in(self.document.schematic, ("schematic",))}
        for at, net in enumerate(self.channel.common):
            if private.pop(net, None) is None:
                expected = "a net that [channel.schematic] uses"
                self.problems.add(("channel", "common", at), f'"{net}"', expected, net, private)
        for net, path in private.items():
            if net in outside and net != METAL:
                self.problems.add(
                    path,
                    f'"{net}" in the channel, and a net of that name in [schematic]',
                    "it in channel.common when they are one net, or another name",
                )

    def check_names(self) -> None:
        """Names that parts give: wire types, pieces of metal."""
        wire_types = self.document.wire_types
        pieces = [METAL, *(self.document.chassis.covers if self.document.chassis else ())]
        for spec, path in {path: (spec, path) for spec, path in self.specs.values()}.values():
            if isinstance(spec, Wound) and spec.lead is not None:
                self.one_of("wire type", spec.lead, wire_types, "wire_types", (*path, "lead"))
            for name in spec.basis if isinstance(spec.basis, dict) else ():
                values = sorted(set(spec.value_names()))
                if name not in values:
                    where, expected = (*path, "basis", name), f"one of {', '.join(values)}"
                    self.problems.add(where, f'value "{name}"', expected, name, values, True)
            if isinstance(spec, ChassisBond) and spec.piece not in pieces:
                self.problems.add(
                    (*path, "piece"),
                    f'piece = "{spec.piece}"',
                    '"chassis", or a cover from chassis.covers',
                    spec.piece,
                    pieces,
                )

    # -- names ---------------------------------------------------------------------------------

    def known(self, ref: str, path: DocumentPath) -> bool:
        if ref not in self.specs:
            self.problems.add(
                path, f"{ref}, which is not listed", "a part of [parts]", ref, self.specs, True
            )
        return ref in self.specs

    def one_of(
        self, what: str, name: str, known: Mapping[str, object], table: str, path: DocumentPath
    ) -> None:
        if name not in known:
            self.problems.add(path, f'{what} "{name}"', f"one from [{table}]", name, known)

    def point(self, text: str, path: DocumentPath) -> str:
        """Resolve "V1.5" or "E1" to a tie point; report it when there is no such point."""
        return tie_point(text, self.kinds, self.types, path, self.problems)

    @functools.cached_property
    def kinds(self) -> dict[str, AnyPart]:
        """Every part as it is bought, once all are gathered."""
        return {ref: spec for ref, (spec, _path) in self.specs.items()}

    def in_channel(self, name: str, letter: str) -> str:
        """What a tie point written in the channel means in the channel ``letter``."""
        ref, dot, point = name.partition(".")
        if ref in self.channel.parts:
            return f"{ref}{letter}{dot}{point}"
        section = self.channel.sections.get(ref, {}).get(letter)
        pin = electrode_pin(self.types.get(ref), point, section) if section else None
        return f"{ref}.{pin}" if pin is not None else name

    # -- tables --------------------------------------------------------------------------------

    def table(self, chapter: str) -> dict[str, Written]:
        """Resolve [schematic] or [leads], channels included: part -> terminal -> (name, place)."""
        found: dict[str, Written] = {}
        for ref, given in getattr(self.document, chapter).items():
            path: DocumentPath = (chapter, ref)
            if self.known(ref, path):
                spec, kind = self.specs[ref][0], self.types.get(ref)
                found[ref] = resolved(ref, spec, kind, given, path, self.problems)
        for ref, given in getattr(self.channel, chapter).items():
            for letter in self.channel.names:
                self.channel_entry(chapter, ref, given, letter, found)
        return found

    def channel_entry(
        self, chapter: str, ref: str, given: Ends, letter: str, found: dict[str, Written]
    ) -> None:
        path: DocumentPath = ("channel", chapter, ref)
        own = ref in self.channel.parts
        twin = ref + letter if own else ref
        if not self.known(twin, path):
            return
        section = None if own else self.channel.sections.get(ref, {}).get(letter)
        if not own and section is None:
            self.problems.add(
                path,
                f"{ref} in channel {letter}, but it is one part for all channels",
                f"{ref} in [channel.parts], or its section in channel.sections.{ref}",
                on_key=True,
            )
            return
        spec, kind = self.specs[twin][0], self.types.get(twin)
        entry = found.setdefault(twin, {})
        written = resolved(twin, spec, kind, given, path, self.problems, section)
        for terminal, (name, where) in written.items():
            if chapter == "leads":
                name = self.in_channel(name, letter)
            elif name not in self.channel.common and name != METAL:
                name = f"{name} {letter}"
            taken = entry.setdefault(terminal, (name, where))[0]
            if taken != name:
                self.problems.add(
                    where,
                    f'"{name}" for {twin}.{terminal}, which is on "{taken}" already',
                    "one name for each terminal",
                )

    def wires(self) -> dict[str, WireUse]:
        listed = set(self.document.wires)
        found = [
            self.wire(ref, spec, ("wires", ref), "") for ref, spec in self.document.wires.items()
        ]
        for ref, spec in self.channel.wires.items():
            path: DocumentPath = ("channel", "wires", ref)
            for letter in self.channel.names:
                self.free(ref, ref + letter, listed, path)
                listed.add(ref + letter)
                found.append(self.wire(ref + letter, spec, path, letter))
        uses = {use.ref: use for use in found if use is not None}
        for use in uses.values():
            others = listed - {use.ref}
            if use.twist is not None and use.twist not in others:
                self.problems.add(
                    (*use.path, "twist"), f'wire "{use.twist}"', "another wire", use.twist, others
                )
        return uses

    def wire(self, ref: str, spec: Wire, path: DocumentPath, letter: str) -> WireUse | None:
        types = self.document.wire_types
        self.one_of("wire type", spec.type, types, "wire_types", (*path, "type"))
        run = tuple(
            self.point(self.in_channel(point, letter), (*path, "run", at))
            for at, point in enumerate(spec.run)
        )
        for at, (a, b) in enumerate(itertools.pairwise(run), start=1):
            if a == b and a:
                self.problems.add(
                    (*path, "run", at), f"{a} twice in a row", "a wire from one point to another"
                )
        alone = isinstance(spec.through, str)
        through = (spec.through,) if isinstance(spec.through, str) else tuple(spec.through or ())
        for at, hole in enumerate(through):
            where = (*path, "through") if alone else (*path, "through", at)
            self.one_of("hole", hole, self.document.holes, "holes", where)
        twist = spec.twist
        if twist in self.channel.wires and letter:
            twist = f"{twist}{letter}"
        kind = types.get(spec.type)
        return None if kind is None else WireUse(ref, spec, kind, path, run, through, twist)

    def check_seats(self) -> None:
        for ref, seat in self.document.layout.items():
            path: DocumentPath = ("layout", ref)
            if not self.known(ref, path) or seat.leads_through is None:
                continue
            where = (*path, "leads_through")
            if isinstance(seat.leads_through, str):
                self.one_of("hole", seat.leads_through, self.document.holes, "holes", where)
                continue
            terminals = self.specs[ref][0].terminals()
            windings = dict.fromkeys(t.partition(".")[0] for t in terminals if "." in t)
            for winding, hole in seat.leads_through.items():
                if winding not in windings:
                    names = ", ".join(windings) or "no winding: one hole for all its leads"
                    self.problems.add(
                        (*where, winding),
                        f'winding "{winding}" of {ref}',
                        f"one of {names}" if windings else names,
                        winding,
                        windings,
                        on_key=True,
                    )
                self.one_of("hole", hole, self.document.holes, "holes", (*where, winding))


def resolve(document: Document, types: TubeTypes) -> tuple[Design | None, list[Problem]]:
    """Resolve a document; the design is None when there are problems."""
    builder = _Builder(document, types)
    design = builder.build()
    return design, builder.problems.found
