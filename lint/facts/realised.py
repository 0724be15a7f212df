"""Nets against what is soldered: what is joined that should not be, and what is not that should."""

from __future__ import annotations

from dataclasses import dataclass

from coldcheck.lint.design import METAL, Design
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.graphs.wiring import Joint, Link, Wiring


@dataclass(frozen=True, slots=True)
class Split:
    """A net whose terminals are soldered in more than one piece."""

    net: str
    pieces: tuple[tuple[str, ...], ...]
    """Terminals ("R4.1") by piece, the largest piece first."""


@dataclass(frozen=True, slots=True)
class Merged:
    """Nets that the wiring joins although the schematic keeps them apart."""

    nets: tuple[str, ...]
    way: tuple[Link, ...]
    """The conductors from a terminal of the first net to one of the second."""


@dataclass(frozen=True, slots=True)
class Realised:
    """How the wiring realises the schematic."""

    splits: tuple[Split, ...]
    merged: tuple[Merged, ...]
    unwired: tuple[str, ...]
    """Parts with nets of which no terminal is soldered to anything."""
    idle: tuple[Link, ...]
    """Wires that end on a point where nothing else is."""


def make(design: Design, schematic: Schematic, wiring: Wiring) -> Realised:
    """Compare every net with the groups of tie points that are one conductor."""
    same = schematic.same_potential()
    terminals: dict[str, list[str]] = {}
    for net, ends in design.nets.items():
        terminals.setdefault(same[net], []).extend(
            METAL if terminal == METAL else f"{ref}.{terminal}" for ref, terminal in ends
        )
    group_of = {point: at for at, group in enumerate(wiring.joined()) for point in group}
    touched = {point for link in wiring.links for point in (link.a, link.b)}
    unwired = tuple(
        part.ref
        for part in design.parts.values()
        if part.ends and not any(f"{part.ref}.{t}" in touched for t in part.ends)
    )
    splits: list[Split] = []
    for name, points in terminals.items():
        pieces: dict[int, list[str]] = {}
        for point in dict.fromkeys(points):
            if point.partition(".")[0] not in unwired and point in group_of:
                pieces.setdefault(group_of[point], []).append(point)
        if len(pieces) > 1:
            ordered = sorted((tuple(p) for p in pieces.values()), key=lambda p: (-len(p), p))
            splits.append(Split(name, tuple(ordered)))
    return Realised(
        tuple(splits), tuple(_merged(terminals, group_of, wiring)), unwired, _idle(wiring, touched)
    )


def _merged(
    terminals: dict[str, list[str]], group_of: dict[str, int], wiring: Wiring
) -> list[Merged]:
    nets_in: dict[int, dict[str, str]] = {}
    for net, points in terminals.items():
        for point in points:
            if point in group_of:
                nets_in.setdefault(group_of[point], {}).setdefault(net, point)
    found = []
    for nets in nets_in.values():
        if len(nets) > 1:
            names = sorted(nets)
            ways = wiring.reach(nets[names[0]], lambda link: True)
            found.append(Merged(tuple(names), ways[nets[names[1]]]))
    return sorted(found, key=lambda merged: merged.nets)


def _idle(wiring: Wiring, touched: set[str]) -> tuple[Link, ...]:
    """Wires with an end on a point that belongs to no net and carries nothing else."""
    design = wiring.design
    in_use = {f"{ref}.{t}" for ends in design.nets.values() for ref, t in ends} | {METAL}
    idle = []
    for link in wiring.links:
        if link.joint is Joint.WIRE:
            for point in (link.a, link.b):
                alone = wiring.graph.degree(point) == 1
                if alone and point not in in_use and not point.startswith(METAL):
                    idle.append(link)
                    break
    return tuple(idle)
