"""The design a document describes: channels written out, every reference resolved.

:mod:`coldcheck.lint.read.resolve` makes one from a checked document.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Generic, NamedTuple, TypeVar, cast

from coldcheck.lint.model import DocumentPath, Subject
from coldcheck.schemas.build import Chassis, Hole, Seat, Wire, WireType
from coldcheck.schemas.document import Document
from coldcheck.schemas.parts import (
    GroundBus,
    Inlet,
    Part,
    Potentiometer,
    Switch,
    TerminalStrip,
    Tube,
    Wound,
)
from coldcheck.schemas.reference import TubeType

METAL = "chassis"
"""The reserved name of the chassis metal, as a net and as a tie point."""


Spec = TypeVar("Spec", bound=Part, covariant=True)
Kind = TypeVar("Kind", bound=Part)


@dataclass(frozen=True, slots=True)
class Use(Generic[Spec]):
    """A part in its place: what it is, the nets its terminals are on, where it is soldered."""

    ref: str
    spec: Spec
    path: DocumentPath
    ends: Mapping[str, str]
    """Terminal to net."""
    ends_path: DocumentPath
    leads: Mapping[str, str]
    """Terminal to the tie point it is soldered to, for parts with leads of their own."""
    seat: Seat | None
    tube: TubeType | None = None

    @property
    def subject(self) -> Subject:
        return Subject("part", self.ref, self.path)

    def net(self, terminal: str) -> str | None:
        return self.ends.get(terminal)


PartUse = Use[Part]
"""A part of any kind."""


class WireUse(NamedTuple):
    """A wire with its run resolved to tie points."""

    ref: str
    spec: Wire
    type: WireType
    path: DocumentPath
    run: tuple[str, ...]
    through: tuple[str, ...]
    twist: str | None
    """The wire it is twisted with."""

    @property
    def subject(self) -> Subject:
        return Subject("wire", self.ref, self.path)


class Design(NamedTuple):
    """Everything a document says, with channels written out and references resolved."""

    document: Document
    parts: Mapping[str, PartUse]
    nets: Mapping[str, tuple[tuple[str, str], ...]]
    """Net to the (part, terminal) pairs on it."""
    wires: Mapping[str, WireUse]
    holes: Mapping[str, Hole]

    @property
    def chassis(self) -> Chassis | None:
        return self.document.chassis

    @property
    def has_wiring(self) -> bool:
        return bool(self.wires)

    @property
    def subject(self) -> Subject:
        return Subject("document", self.document.project.name, ("project", "name"))

    def net_subject(self, net: str) -> Subject:
        """The net, placed where the schematic first names it."""
        for ref, _terminal in self.nets.get(net, ()):
            return Subject("net", net, self.parts[ref].ends_path)
        return Subject("net", net, ("schematic",))

    def hole_subject(self, hole: str) -> Subject:
        return Subject("hole", hole, ("holes", hole))

    def of(self, *kinds: type[Kind]) -> Iterator[Use[Kind]]:
        """Parts of the given kinds, in order of reference."""
        found = (part for part in self.parts.values() if isinstance(part.spec, kinds))
        return cast(Iterator[Use[Kind]], found)


def tube_remarks(design: Design) -> tuple[str, ...]:
    """What every report says of a design's tube types: whose word they are, and how weak a one."""
    entries = design.document.tubes
    said = [
        f"tube type {name} is the project's own: "
        f"{f'{entry.like} with changes' if entry.like else 'written whole'} ({entry.source})"
        for name, entry in sorted(entries.items())
    ]
    used = {part.tube.name: part.tube for part in design.parts.values() if part.tube is not None}
    said += [
        f"tube type {name} is from the personal tube library ({kind.cited}); a review elsewhere "
        "will not know it"
        for name, kind in sorted(used.items())
        if kind.origin == "personal"
    ]
    said += [
        f"pins and ratings of tube type {name} are from memory, not read in a data sheet"
        for name, kind in sorted(used.items())
        if kind.from_memory
    ]
    return tuple(said)


def natural(ref: str) -> tuple[str, int, str]:
    """Sort key that puts R2 before R10, and R2 before R2L."""
    letters = ref.rstrip("0123456789") if ref[-1:].isdigit() else ref[:-1].rstrip("0123456789")
    rest = ref[len(letters) :]
    digits = "".join(sign for sign in rest if sign.isdigit())
    return letters, int(digits or 0), rest


def tie_points(spec: Part, kind: TubeType | None) -> tuple[str, ...]:
    """Names of the points of a part that something can be soldered to."""
    if isinstance(spec, Tube):
        return tuple(str(pin) for pin in socket_pins(kind))
    if isinstance(spec, TerminalStrip):
        return tuple(str(lug) for lug in range(1, spec.lugs + 1))
    if isinstance(spec, GroundBus):
        return tuple(str(point) for point in range(1, spec.points + 1))
    return spec.terminals() + tuple(metal for kinds, metal in BODIES if isinstance(spec, kinds))


BODIES: tuple[tuple[tuple[type, ...], str], ...] = (
    ((Wound,), "frame"),
    ((Potentiometer, Switch), "body"),
    ((Inlet,), "shell"),
)
"""Parts with metal of their own that is no terminal of the schematic."""


def socket_pins(kind: TubeType | None) -> range:
    """Pins of the socket a tube needs; a type not in the library is given nine."""
    return range(1, (9 if kind is None else max(kind.pins, default=8)) + 1)


def make(design: Design) -> Design:
    """The design itself is a fact."""
    return design
