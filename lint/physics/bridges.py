"""Bridges on a winding that hangs on nothing else: their opposite arms are alike at every instant.

The windings' currents into the bridge add up to none, so what one arm to the one rail carries more
than its opposite, the other arm to that rail carries less than its own; and by Kirchhoff's voltage
law the voltages of both pairs differ by the same.  A diode's current grows with its voltage, so
with four equal diodes neither differs.  Four diodes are then two, each at twice the voltage.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import NamedTuple

from coldcheck.lint.physics.circuit import Circuit, SiliconDiode, Transformer
from coldcheck.lint.physics.floating import terminals


class Bridge(NamedTuple):
    """Names of the two diodes that conduct together, of the two that do in the other half, and of
    the nodes at the ends of the winding."""

    one: tuple[str, str]
    other: tuple[str, str]
    winding: tuple[str, str]


def bridges(circuit: Circuit) -> tuple[Bridge, ...]:
    """Every bridge of four equal diodes whose winding is tied to the rest through them only."""
    by_ends: dict[str, list[SiliconDiode]] = {}
    for element in circuit.elements:
        if isinstance(element, SiliconDiode):
            by_ends.setdefault(element.anode, []).append(element)
            by_ends.setdefault(element.cathode, []).append(element)
    # an end of such a winding is one diode's anode and another's cathode
    ends = [node for node, diodes in by_ends.items() if len(diodes) == 2]
    found = [_bridge(by_ends[a], by_ends[b], a, b) for a, b in itertools.combinations(ends, 2)]
    elsewhere = {*by_ends, circuit.ground}
    return tuple(
        bridge
        for bridge in found
        if bridge is not None
        if _hanging(circuit, bridge.winding[0]) & elsewhere == {*bridge.winding}
    )


def twins(found: Iterable[Bridge]) -> dict[str, str]:
    """Of every pair of opposite arms the second, by the name of the first."""
    return dict(pair for bridge in found for pair in (bridge.one, bridge.other))


def _bridge(first: list[SiliconDiode], second: list[SiliconDiode], a: str, b: str) -> Bridge | None:
    """The bridge of the diodes at both ends of a winding, if they are one."""
    up, down = _way(first, a), _way(second, b)
    if up is None or down is None:
        return None
    (out, back), (opposite, home) = up, down
    if out.cathode != opposite.cathode or back.anode != home.anode:
        return None
    if len({(d.saturation, d.slope, d.ohms) for d in (out, back, opposite, home)}) > 1:
        return None
    return Bridge((out.name, home.name), (opposite.name, back.name), (a, b))


def _way(diodes: list[SiliconDiode], node: str) -> tuple[SiliconDiode, SiliconDiode] | None:
    """The diode out of a node and the one into it."""
    one, other = diodes
    if one.anode == other.cathode == node:
        return one, other
    return (other, one) if other.anode == one.cathode == node else None


def _hanging(circuit: Circuit, node: str) -> set[str]:
    """What a node is joined to in any way but by a silicon diode or a core."""
    pairs: list[tuple[str, ...]] = []
    for element in circuit.elements:
        if isinstance(element, Transformer):
            pairs += [(coil.a, coil.b) for coil in element.coils]
        elif not isinstance(element, SiliconDiode):
            pairs.append(terminals(element))
    joined, before = {node}, 0
    while len(joined) > before:
        before = len(joined)
        for nodes in pairs:
            if not joined.isdisjoint(nodes):
                joined.update(nodes)
    return joined
