"""Nets against what is soldered: what is joined that should not be, and what is not that should."""

from __future__ import annotations

from typing import NamedTuple

from coldcheck.lint.design import METAL, Design, natural
from coldcheck.lint.facts.live import high_nets, mains_nets, touched_nets
from coldcheck.lint.graphs.schematic import Body, Schematic
from coldcheck.lint.graphs.wiring import Joint, Link, Wiring


class Split(NamedTuple):
    """A net whose terminals are soldered in more than one piece."""

    net: str
    pieces: tuple[tuple[str, ...], ...]
    """Terminals ("R4.1") by piece, the largest piece first."""


class Merged(NamedTuple):
    """Nets that the wiring joins although the schematic keeps them apart."""

    nets: tuple[str, ...]
    way: tuple[Link, ...]
    """The conductors from a terminal of the first net to one of the second."""
    mains: bool
    """Whether it joins mains to mains: past a fuse or a switch, or line to neutral."""
    deadly: bool
    """Whether it joins mains to anything else, or the high-voltage side to a free contact."""


class Realised(NamedTuple):
    """How the wiring realises the schematic."""

    splits: tuple[Split, ...]
    merged: tuple[Merged, ...]
    unwired: tuple[str, ...]
    """Parts with nets of which no terminal is soldered to anything."""
    idle: tuple[Link, ...]
    """Wires that end on a point where nothing else is."""

    @property
    def loose(self) -> frozenset[str]:
        """Parts that carry no current as soldered: not soldered at all, or with a lone end."""
        alone = {
            refs.pop()
            for split in self.splits
            for piece in split.pieces
            if len(refs := {point.partition(".")[0] for point in piece}) == 1
        }
        return frozenset(alone | set(self.unwired))


def make(design: Design, schematic: Schematic, wiring: Wiring) -> Realised:
    """Compare every net with the groups of tie points that are one conductor."""
    net_of = {
        METAL if t == METAL else f"{ref}.{t}": net
        for net, ends in design.nets.items()
        for ref, t in ends
    }
    same = schematic.same_potential()
    terminals: dict[str, list[str]] = {}
    # in order of parts, not of net names: a net renamed is reported as before
    for point in sorted(net_of, key=_by_part):
        terminals.setdefault(same[net_of[point]], []).append(point)
    group_of = {point: at for at, group in enumerate(wiring.joined()) for point in group}
    touched = {point for link in wiring.links for point in (link.a, link.b)}
    unwired = tuple(
        part.ref
        for part in design.parts.values()
        if part.ends and not any(f"{part.ref}.{t}" in touched for t in part.ends)
    )
    splits: list[Split] = []
    for points in terminals.values():
        pieces: dict[int, list[str]] = {}
        for point in points:
            if point.partition(".")[0] not in unwired and point in group_of:
                pieces.setdefault(group_of[point], []).append(point)
        if len(pieces) > 1:
            ordered = sorted(map(tuple, pieces.values()), key=lambda p: (-len(p), _by_part(p[0])))
            splits.append(Split(_torn(ordered, net_of), tuple(ordered)))
    splits.sort(key=lambda split: _by_part(split.pieces[0][0]))
    return Realised(
        tuple(splits),
        tuple(_merged(terminals, net_of, group_of, schematic, wiring)),
        unwired,
        _idle(wiring, touched),
    )


def _by_part(point: str) -> tuple[bool, tuple[str, int, str], str]:
    """Sort key of a tie point: by part, the chassis last."""
    ref, _dot, terminal = point.partition(".")
    return point == METAL, natural(ref), terminal


def _torn(pieces: list[tuple[str, ...]], net_of: dict[str, str]) -> str:
    """The net that lies in more than one piece, where bonds make several nets one."""
    nets = [{net_of[point] for point in piece} for piece in pieces]
    for piece in pieces[1:]:
        for point in piece:
            if sum(net_of[point] in held for held in nets) > 1 and net_of[point] != METAL:
                return net_of[point]
    return net_of[pieces[1][0]]


def _merged(
    terminals: dict[str, list[str]],
    net_of: dict[str, str],
    group_of: dict[str, int],
    schematic: Schematic,
    wiring: Wiring,
) -> list[Merged]:
    mains = mains_nets(wiring.design, schematic)
    high = high_nets(wiring.design, schematic)
    # high voltage on ground is a short and blows the fuse; on a free contact it waits for a hand
    grounded = schematic.ground() | schematic.reach(METAL, lambda s: s.body is Body.METAL)
    contacts = touched_nets(wiring.design, schematic).keys() - grounded
    points_in: dict[int, dict[str, str]] = {}
    for name, points in terminals.items():
        for point in points:
            if point in group_of:
                points_in.setdefault(group_of[point], {}).setdefault(name, point)
    found = []
    for by_net in points_in.values():
        if len(by_net) > 1:
            ends = sorted(by_net.values(), key=_by_part)
            ways = wiring.reach(ends[0], lambda link: True)
            nets = tuple(net_of[end] for end in ends)
            at_mains = [net in mains for net in nets]
            out = not high.isdisjoint(nets) and not contacts.isdisjoint(nets)
            found.append(
                Merged(
                    nets,
                    ways[ends[1]],
                    sum(at_mains) > 1,
                    out or (any(at_mains) and not all(at_mains)),
                )
            )
    return sorted(found, key=lambda merged: [link.name for link in merged.way])


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
