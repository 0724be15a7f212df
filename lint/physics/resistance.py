"""Direct-current resistance between nodes and ground, tubes and capacitors left out."""

from __future__ import annotations

import math
from collections.abc import Iterable

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


def ohms_to_ground(circuit: Circuit, nodes: Iterable[str]) -> dict[str, float]:
    """Ohms from each node to ground through resistors, windings and diodes; inf without such a path.

    A diode or zener counts as its series resistance: it holds the far side to a supply.

    >>> two = (Resistor("R1", "g", "m", 1e3), Resistor("R2", "m", "0", 2e3))
    >>> ohms_to_ground(Circuit(two, "0"), ["g"])
    {'g': 3000.0}
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
    here = [way for way in ways if clusters.find(way[0]) == home]
    at = {circuit.ground: 0}
    for a, b, _ohms in here:
        at.setdefault(a, len(at))
        at.setdefault(b, len(at))
    matrix = np.zeros((len(at), len(at)))
    for a, b, ohms in here:
        i, j, siemens = at[a], at[b], 1.0 / max(ohms, LEAST)
        matrix[[i, j], [i, j]] += siemens
        matrix[[i, j], [j, i]] -= siemens
    found = np.zeros(len(at))
    found[1:] = np.linalg.inv(matrix[1:, 1:]).diagonal()
    return {n: float(np.round(found[at[n]], 6)) if n in at else math.inf for n in nodes}
