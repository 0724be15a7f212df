"""Direct-current resistance between a node and ground, tubes and capacitors left out."""

from __future__ import annotations

import math

import numpy as np

from coldcheck.lint.physics.circuit import (
    Circuit,
    Inductor,
    Resistor,
    SiliconDiode,
    Transformer,
    ZenerDiode,
)
from coldcheck.lint.physics.floating import Clusters

LEAST = 1e-6
"""Ohms that stand for a wire without any, so that it has a conductance; our choice."""


def ohms_to_ground(circuit: Circuit, node: str) -> float:
    """Ohms from ``node`` to ground through resistors, windings and diodes; inf without such a path.

    A diode or zener counts as its series resistance: it holds the far side to a supply.

    >>> two = (Resistor("R1", "g", "m", 1e3), Resistor("R2", "m", "0", 2e3))
    >>> ohms_to_ground(Circuit(two, "0"), "g")
    3000.0
    """
    ways: list[tuple[str, str, float]] = []
    for element in circuit.elements:
        if isinstance(element, Resistor | Inductor):
            ways.append((element.a, element.b, element.ohms))
        elif isinstance(element, SiliconDiode | ZenerDiode):
            ways.append((element.anode, element.cathode, element.ohms))
        elif isinstance(element, Transformer):
            ways += [(coil.a, coil.b, coil.ohms) for coil in element.coils]
    clusters = Clusters()
    for a, b, _ohms in ways:
        clusters.join(a, b)
    home = clusters.find(circuit.ground)
    if node == circuit.ground:
        return 0.0
    if clusters.find(node) != home:
        return math.inf
    here = [way for way in ways if clusters.find(way[0]) == home]
    nodes = sorted({n for a, b, _ohms in here for n in (a, b)} - {circuit.ground})
    at = {name: k for k, name in enumerate(nodes)}
    matrix = np.zeros((len(nodes), len(nodes)))
    for a, b, ohms in here:
        g = 1.0 / max(ohms, LEAST)
        for one, other in ((a, b), (b, a)):
            if one in at:
                matrix[at[one], at[one]] += g
                if other in at:
                    matrix[at[one], at[other]] -= g
    injected = np.zeros(len(nodes))
    injected[at[node]] = 1.0
    return float(np.round(np.linalg.solve(matrix, injected)[at[node]], 6))
