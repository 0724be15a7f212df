"""Kirchhoff's current law and the power balance, counted from published results only.

Currents are read by element name and summed by hand here, so that a mistake in the solvers'
matrices cannot hide itself.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator

import numpy as np

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Circuit,
    Mosfet,
    Pentode,
    Regulator,
    Transformer,
    Triode,
)
from coldcheck.lint.physics.dc import Point
from coldcheck.lint.physics.floating import terminals
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.waves import Waves

Currents = Callable[[str], np.ndarray]


def _flows(
    circuit: Circuit, plate: Currents, screen: Currents, grid: Currents, into: Currents
) -> Iterator[tuple[str, str, np.ndarray]]:
    """(from node, to node, current) of every element, coil and electrode."""
    for element in circuit.elements:
        match element:
            case Transformer(coils=coils):
                for coil in coils:
                    yield coil.a, coil.b, plate(coil.name)
            case Triode() | Pentode():
                yield element.plate, element.cathode, plate(element.name)
                yield element.grid, element.cathode, grid(element.name)
                if isinstance(element, Pentode):
                    yield element.screen, element.cathode, screen(element.name)
            case Bipolar() | Mosfet() | Regulator():
                for node, current in zip(terminals(element), into(element.name), strict=True):
                    yield node, f"inside {element.name}", current
            case _ if hasattr(element, "anode"):
                yield element.anode, element.cathode, plate(element.name)
            case _:
                yield element.a, element.b, plate(element.name)


def imbalance(circuit: Circuit, found: Point | Waves) -> tuple[float, float]:
    """Largest sum of currents at a node other than ground, and the largest current, in amperes."""
    if isinstance(found, Point):
        point = found
        flows = _flows(
            circuit,
            lambda name: np.array([point.amperes[name]]),
            lambda name: np.array([point.screen_amperes[name]]),
            lambda name: np.array([point.grid_amperes[name]]),
            lambda name: np.array(point.terminal_amperes[name])[:, None],
        )
    elif isinstance(found, PeriodicState):
        flows = _flows(
            circuit, found.amperes, found.screen_amperes, found.grid_amperes, found.terminal_amperes
        )
    else:
        flows = _flows(circuit, found.amperes, found.amperes, found.amperes, found.terminal_amperes)
    sums: dict[str, np.ndarray] = defaultdict(lambda: np.zeros(1))
    largest = 0.0
    for a, b, current in flows:
        sums[a] = sums[a] + current
        sums[b] = sums[b] - current
        largest = max(largest, float(np.abs(current).max()))
    worst = max((float(np.abs(s).max()) for n, s in sums.items() if n != circuit.ground), default=0)
    return worst, largest


def power(circuit: Circuit, state: PeriodicState) -> tuple[float, float]:
    """Sum of mean power taken by everything, and what the sources deliver, in watts."""
    taken, delivered = 0.0, 0.0
    for element in circuit.elements:
        if isinstance(element, Transformer):
            taken += sum(state.watts(coil.name) for coil in element.coils)
        elif isinstance(element, Pentode):
            taken += state.watts(element.name) + state.screen_watts(element.name)
        else:
            watts = state.watts(element.name)
            taken += watts
            delivered -= min(watts, 0.0)
    return taken, delivered
