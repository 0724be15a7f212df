"""Runs: how far wires that hum, or carry the output, lie beside wires of the input.

A wire is taken as straight between the places of the parts it joins: all that a layout says of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from coldcheck.lint.design import METAL, Design, WireUse
from coldcheck.lint.facts.input_loops import input_nets
from coldcheck.lint.facts.live import mains_nets
from coldcheck.lint.facts.places import Point3, place_of
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.graphs.wiring import Wiring
from coldcheck.lint.physics.spans import near
from coldcheck.schemas.parts import Capacitor, Connector, MainsTransformer, OutputTransformer

CLOSE = 25e-3
"""Metres apart within which two wires count as lying beside each other: an inch; common practice,
no source."""

Span = tuple[Point3, Point3]


class Run(NamedTuple):
    """Two wires that lie beside each other for some of their way."""

    quiet: WireUse
    """Of the input."""
    loud: WireUse
    carries: str
    """What the other carries: "the mains", "a rectifier's ac", "a heater" or "the output"."""
    length: float
    """Metres of the input's wire within :data:`CLOSE` of the other."""
    apart: float
    """Least distance in metres."""
    twisted: bool
    """Whether the loud one is twisted with another."""


class Runs(NamedTuple):
    """Unscreened input wires, and what each lies beside."""

    quiet: tuple[WireUse, ...]
    loud: tuple[WireUse, ...]
    beside: tuple[Run, ...]
    unplaced: tuple[str, ...]
    """Parts at the ends of these wires without a place."""


def make(design: Design, wiring: Wiring, schematic: Schematic, stages: Stages) -> Runs:
    """Raises Missing where nothing is wired."""
    inputs = input_nets(design, schematic.ground(), stages.amplifying)
    loud = _loud_nets(design, schematic, stages)
    groups = {point: group for group in wiring.joined() for point in group}
    quiet: list[WireUse] = []
    noisy: list[tuple[WireUse, str]] = []
    screens = [wire for wire in design.wires.values() if wire.spec.shield]
    for wire in design.wires.values():
        nets = _nets(design, groups.get(wire.run[0], frozenset()))
        if nets & inputs and not any(_parts(wire) == _parts(screen) for screen in screens):
            quiet.append(wire)
        sort = next((words for words, own in loud if nets & own), None)
        if sort is not None and not nets & inputs:
            noisy.append((wire, sort))
    found = []
    for one in quiet:
        for other, words in noisy:
            length, apart = _beside(design, one, other)
            if length > 0.0:
                found.append(Run(one, other, words, length, apart, other.twist is not None))
    wires = (*quiet, *(wire for wire, _words in noisy))
    unplaced = [
        point.partition(".")[0]
        for wire in wires
        for point in wire.run
        if point != METAL and place_of(design, point) is None
    ]
    return Runs(
        tuple(quiet),
        tuple(wire for wire, _words in noisy),
        tuple(found),
        tuple(dict.fromkeys(unplaced)),
    )


def _loud_nets(
    design: Design, schematic: Schematic, stages: Stages
) -> tuple[tuple[str, frozenset[str]], ...]:
    """Nets by what they carry, the one that counts first where a net is in two."""
    closed = schematic.ground() | {METAL}
    tubes = {stage.part.ref for stage in stages.amplifying}
    heaters = {net for h in stages.heaters if h.part.ref in tubes for net in (h.a, h.b)}
    secondaries = {
        net
        for part in design.of(MainsTransformer)
        for end, net in part.ends.items()
        if not end.startswith("primary.")
    }
    # what a reservoir stands on is dc, though a rectifier's filament may be fed there
    secondaries -= {net for part in design.of(Capacitor) for net in part.ends.values()}
    plates = {stage.plate for stage in stages.amplifying}
    outputs = {
        net
        for part in design.of(OutputTransformer)
        for end, net in part.ends.items()
        if end.startswith("secondary.") or net in plates
    }
    outputs |= {
        net
        for part in design.of(Connector)
        if part.spec.role in ("output", "loudspeaker", "headphone")
        for net in part.ends.values()
    }
    return (
        ("the mains", mains_nets(design, schematic) - closed),
        ("a heater", frozenset(heaters) - closed),
        ("a rectifier's ac", frozenset(secondaries) - closed),
        ("the output", frozenset(outputs) - closed),
    )


def _nets(design: Design, group: frozenset[str]) -> frozenset[str]:
    found = set()
    for point in group:
        ref, _dot, terminal = point.partition(".")
        part = design.parts.get(ref)
        net = part.net(terminal) if part is not None else None
        if net is not None:
            found.add(net)
    return frozenset(found)


def _parts(wire: WireUse) -> frozenset[str]:
    return frozenset(point.partition(".")[0] for point in wire.run)


def _spans(design: Design, wire: WireUse) -> Iterator[Span]:
    for one, other in zip(wire.run, wire.run[1:], strict=False):
        a, b = place_of(design, one), place_of(design, other)
        if a is not None and b is not None:
            yield a, b


def _beside(design: Design, one: WireUse, other: WireUse) -> tuple[float, float]:
    """Metres of one wire that lie within :data:`CLOSE` of the other, and the least distance.

    The least is infinite where no span of the other comes near.
    """
    every = list(_spans(design, other))
    length, least = 0.0, math.inf
    for span in _spans(design, one):
        reached = 0.0
        for begin, end, apart in sorted(
            near(*span, *far, CLOSE) for far in every if _may_touch(span, far)
        ):
            least = min(least, apart)
            length += max(end - max(begin, reached), 0.0) * math.dist(*span)
            reached = max(reached, end)
    return length, least


def _may_touch(one: Span, other: Span) -> bool:
    """Whether the boxes round two spans are within :data:`CLOSE` of each other."""
    return all(
        max(min(p), min(q)) - min(max(p), max(q)) <= CLOSE
        for p, q in zip(zip(*one, strict=True), zip(*other, strict=True), strict=True)
    )
