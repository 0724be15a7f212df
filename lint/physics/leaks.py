"""Conductances that define nodes without a dc path, so that no matrix is singular."""

from __future__ import annotations

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Capacitor,
    Circuit,
    CurrentLoad,
    GlowTube,
    Mosfet,
    Pentode,
    Regulator,
    SiliconDiode,
    Triode,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.floating import Clusters, dc_paths, terminals

LEAK = 1e-10
"""Conductance in siemens that defines a node nothing else defines; far below real insulation
(10 Gohm against the megohms of a tube circuit) and given to floating nodes only; our choice."""

GRID_LEAK = 1e-12
"""The same for a node that a tube electrode defines; as the usual gmin of circuit simulators."""

DEFINING = (
    *(SiliconDiode, TubeDiode, ZenerDiode, GlowTube, CurrentLoad),
    *(Bipolar, Mosfet, Regulator),
)
"""What defines a node, besides a tube's electrodes."""


def leaks(circuit: Circuit) -> list[tuple[str, str, float]]:
    """Pairs of nodes and the siemens to be put between them.

    A node between capacitors only takes the voltage their charging from zero gives it: its
    leaks are in proportion to the capacitances.  A node that a diode or transistor defines leaks
    to ground too little to matter, and one that a tube defines less still.
    """
    clusters = Clusters()
    clusters.find(circuit.ground)
    for element in circuit.elements:
        for node in terminals(element):
            clusters.find(node)
    for a, b in dc_paths(circuit.elements):
        clusters.join(a, b)
    ground = clusters.find(circuit.ground)
    groups = {clusters.find(g[0]): g for g in clusters.groups() if clusters.find(g[0]) != ground}
    home = {node: group for group, nodes in groups.items() for node in nodes}
    if not home:
        return []
    touched: dict[str, float] = {}
    capacitors: list[tuple[str, str, Capacitor]] = []
    for element in circuit.elements:
        nodes = terminals(element)
        if home.keys().isdisjoint(nodes):
            continue
        match element:
            case Triode() | Pentode():
                for node in nodes:
                    touched.setdefault(home.get(node, ground), GRID_LEAK)
            case Capacitor(farads=farads) if farads > 0.0:
                a, b = (home.get(node, ground) for node in nodes)
                if a != b:
                    capacitors.append((a, b, element))
            case _ if isinstance(element, DEFINING):
                touched |= {home.get(node, ground): LEAK for node in nodes}
            case _:
                pass
    found: list[tuple[str, str, float]] = []
    joined = Clusters()
    loose = groups.keys() - touched.keys()
    ties = [c for c in capacitors if c[0] in loose or c[1] in loose]
    for a, b, _ in ties:
        joined.join(a, b)
    largest: dict[str, float] = {}
    for a, _, capacitor in ties:
        root = joined.find(a)
        largest[root] = max(largest.get(root, 0.0), capacitor.farads)
    for a, _, capacitor in ties:
        share = capacitor.farads / largest[joined.find(a)]
        found.append((capacitor.a, capacitor.b, LEAK * share))
    tied = {joined.find(ground)}
    for group, members in groups.items():
        if group in touched:
            found.append((members[0], circuit.ground, touched[group]))
            tied.add(joined.find(group))
    for group, members in groups.items():
        if joined.find(group) not in tied:
            tied.add(joined.find(group))
            found.append((members[0], circuit.ground, LEAK))
    return found
