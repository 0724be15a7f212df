"""The whole project document, chapter by chapter."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from coldcheck.schemas.build import Chassis, Hole, Seat, Wire, WireType
from coldcheck.schemas.fields import Amperes, BasisWord, Chapter, SignedVolts, Volts, Watts
from coldcheck.schemas.parts import AnyPart, Label
from coldcheck.schemas.site import Accept, Project, Site

Reference = Annotated[str, Field(pattern=r"^[A-Za-z]{1,4}[0-9]{1,4}[A-Za-z]?$")]
"""Letters of IEC 81346-2 or IEEE 315, then a number: R4, TB2, C1a."""
Net = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^\S(.*\S)?$")]
Ends = str | list[str] | dict[str, str | list[str]]
"""Nets (or tie points) of a part: in terminal order, or by terminal, or by winding in order."""


class Channel(Chapter):
    """A channel written once and used as many times as it has ``names``.

    R1 in here becomes R1L and R1R; a net in here becomes "plate L" and "plate R" unless it is
    listed in ``common``.
    """

    names: Annotated[list[Annotated[str, Field(pattern=r"^[A-Za-z]$")]], Field(min_length=2)]
    common: list[Net] = []
    sections: dict[Reference, dict[str, int]] = {}
    """Which section of a shared twin tube serves which channel: { V1 = { L = 1, R = 2 } }."""
    parts: dict[Reference, AnyPart] = {}
    schematic: dict[Reference, Ends] = {}
    leads: dict[Reference, Ends] = {}
    wires: dict[Reference, Wire] = {}


class TubeEntry(Chapter):
    """A tube type the project adds: a library type with some of its values replaced."""

    like: Label
    source: Annotated[str, Field(min_length=3, max_length=200)]
    basis: BasisWord = "data sheet"
    plate_volts: Volts | None = None
    plate_watts: Watts | None = None
    screen_volts: Volts | None = None
    screen_watts: Watts | None = None
    cathode_amperes: Amperes | None = None


class Document(Chapter):
    """A project as a builder writes it."""

    format: Literal[1]
    project: Project
    site: Site
    parts: Annotated[dict[Reference, AnyPart], Field(min_length=1)]
    schematic: dict[Reference, Ends] = {}
    channel: Channel | None = None
    expect: dict[Net, SignedVolts] = {}
    """What the designer expects each net to read at nominal mains."""
    chassis: Chassis | None = None
    layout: dict[Reference, Seat] = {}
    holes: dict[Reference, Hole] = {}
    wire_types: dict[str, WireType] = {}
    leads: dict[Reference, Ends] = {}
    wires: dict[Reference, Wire] = {}
    tubes: dict[Label, TubeEntry] = {}
    accept: list[Accept] = []
