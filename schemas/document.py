"""The whole project document, chapter by chapter."""

from typing import Annotated, Literal

from pydantic import Field, field_validator

from coldcheck.schemas.build import Chassis, Hole, Seat, Wire, WireType
from coldcheck.schemas.fields import (
    LETTER,
    REFERENCE,
    TWIN_REFERENCE,
    Chapter,
    Label,
    Later,
    SignedVolts,
    different,
)
from coldcheck.schemas.parts import AnyPart
from coldcheck.schemas.site import Accept, Claims, Project, Site
from coldcheck.schemas.tube_entry import TubeEntry

Reference = Annotated[str, Field(pattern=REFERENCE)]
"""Letters of IEC 81346-2 or IEEE 315, then a number: R4, TB2, C1a."""
TwinReference = Annotated[str, Field(pattern=TWIN_REFERENCE)]
"""The same in a channel, which adds its own letter."""
Net = Label
Ends = Label | list[Label] | dict[str, Label | list[Label]]
"""Nets (or tie points) of a part: in terminal order, or by terminal, or by winding in order."""


class Channel(Chapter):
    """A channel written once and used as many times as it has ``names``.

    R1 in here becomes R1L and R1R; a net in here becomes "plate L" and "plate R" unless it is
    listed in ``common``.
    """

    names: Annotated[list[Annotated[str, Field(pattern=LETTER)]], Field(min_length=2)]
    common: list[Net] = []
    sections: dict[Reference, dict[str, Annotated[int, Field(ge=1, le=4)]]] = {}
    """Which section of a shared twin tube serves which channel: { V1 = { L = 1, R = 2 } }."""
    parts: dict[TwinReference, AnyPart] = {}
    unlike: dict[Reference, AnyPart] = {}
    """Parts of one channel that are not as written once: { R12L = {...} }."""
    schematic: dict[Reference, Ends] = {}
    leads: dict[Reference, Ends] = {}
    wires: dict[TwinReference, Wire] = {}

    @field_validator("names")
    @classmethod
    def _all_different(cls, names: list[str]) -> list[str]:
        return different(names, "letters that differ by more than their capitals", str.casefold)


class Document(Chapter):
    """A project as a builder writes it."""

    format: Literal[1]
    project: Project
    site: Site
    parts: Annotated[dict[Reference, AnyPart], Field(min_length=1)]
    schematic: dict[Reference, Ends] = {}
    channel: Annotated[Channel, Later(Channel)] | None = None
    claims: Annotated[Claims, Later(Claims)] | None = None
    expect: dict[Net, SignedVolts] = {}
    """What the designer expects each net to read at nominal mains."""
    chassis: Chassis | None = None
    layout: dict[Reference, Seat] = {}
    holes: dict[Reference, Hole] = {}
    wire_types: dict[str, WireType] = {}
    leads: dict[Reference, Ends] = {}
    wires: dict[Reference, Wire] = {}
    tubes: dict[Label, Annotated[TubeEntry, Later(TubeEntry)]] = {}
    accept: list[Annotated[Accept, Later(Accept)]] = []
