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


def leaks(circuit: Circuit) -> list[tuple[str, str, float]]:
    """Pairs of nodes and the siemens to be put between them.

    A node between capacitors only takes the voltage their charging from zero gives it: its
    leaks are in proportion to the capacitances.  A node that a diode or transistor defines leaks
    to ground too little to matter, and one that a tube defines less still.
    """
    clusters = Clusters()
    clusters.find(circuit.ground)
    touched: dict[str, float] = {}
    found: list[tuple[str, str, float]] = []
    for element in circuit.elements:
        for node in terminals(element):
            clusters.find(node)
    for a, b in dc_paths(circuit.elements):
        clusters.join(a, b)
    find = clusters.find
    ground = find(circuit.ground)
    groups = {find(g[0]): g[0] for g in clusters.groups() if find(g[0]) != ground}
    if not groups:
        return found
    for element in circuit.elements:
        match element:
            case Triode() | Pentode():
                for node in terminals(element):
                    touched.setdefault(find(node), GRID_LEAK)
            case SiliconDiode() | TubeDiode() | ZenerDiode() | GlowTube() | CurrentLoad():
                for node in terminals(element):
                    touched[find(node)] = LEAK
            case Bipolar() | Mosfet() | Regulator():
                for node in terminals(element):
                    touched[find(node)] = LEAK
            case _:
                pass
    joined = Clusters()
    capacitors = [
        (find(e.a), find(e.b), e)
        for e in circuit.elements
        if isinstance(e, Capacitor) and e.farads > 0.0 and find(e.a) != find(e.b)
    ]
    loose = {g for g in groups if g not in touched}
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
    for group, node in groups.items():
        if group in touched:
            found.append((node, circuit.ground, touched[group]))
            tied.add(joined.find(group))
    for group, node in groups.items():
        if joined.find(group) not in tied:
            tied.add(joined.find(group))
            found.append((node, circuit.ground, LEAK))
    return found
