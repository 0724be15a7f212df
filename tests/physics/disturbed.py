"""Reference circuits with every value anything from a tenth to ten times, parts lost and shorted.

What becomes of one is told by :func:`judge`.  Whether it had to be solved is decided on the graph
alone, by networkx: a circuit all of whose nodes hang on ground by wire, winding or source is
solvable, since every law in it is continuous and rises with its own voltage.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import NamedTuple

import networkx as nx
import numpy as np

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    Element,
    Inductor,
    NotSolved,
    Pentode,
    Resistor,
    Source,
    Transformer,
    Triode,
)
from coldcheck.lint.physics.dc import Point, operating_point
from coldcheck.lint.physics.discharge import decay
from coldcheck.lint.physics.floating import terminals
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.start import Start, cold_start
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.lint.physics.waves import Waves
from physics import kirchhoff, references

LOST = 2
"""Most parts taken out of a circuit."""
SHORTED = 0.3
"""Share of the circuits in which two ends of a part are joined."""
VALUES = ("ohms", "farads", "henries", "turns", "magnetising", "perveance", "volts", "strikes")
"""What is disturbed of every element and coil; the mains and the laws of tubes stay."""
CYCLES = 6
"""Mains cycles of each cold start; our choice."""


class Disturbed(NamedTuple):
    """A circuit and, in words, what was done to it."""

    circuit: Circuit
    words: str


class Verdict(NamedTuple):
    """``wrong``: what no user should ever see, empty where all is well.

    ``refused``: the analyses that ended in a sentence, with the sentence.  ``linear``: diodes
    and transistors that the steady state took as linear, though they swing too far, and names.
    """

    solvable: bool
    refused: dict[str, str]
    wrong: list[str]
    linear: tuple[str, ...]


def disturbed(seed: int, among: Sequence[str] = tuple(references.REFERENCES)) -> Disturbed:
    """One circuit, always the same for a seed and the names it chooses ``among``."""
    random = np.random.default_rng(seed)
    name = among[int(random.integers(len(among)))]
    circuit = references.REFERENCES[name](230.0, 0.0)
    words = [name]
    elements = [_scaled(element, random) for element in circuit.elements]
    for _ in range(int(random.integers(LOST + 1))):
        gone = elements.pop(int(random.integers(len(elements))))
        words.append(f"without {gone.name}")
    if random.random() < SHORTED:
        ends = terminals(elements[int(random.integers(len(elements)))])
        a, b = (ends[k] for k in random.choice(len(ends), 2, replace=False))
        if a != b:
            elements.append(Resistor("short", a, b, references.WIRE))
            words.append(f"{a} shorted to {b}")
    return Disturbed(circuit._replace(elements=tuple(elements)), ", ".join(words))


def _scaled(element: Element, random: np.random.Generator) -> Element:
    def spread(thing: Element | Coil) -> dict[str, float]:
        held = ((name, getattr(thing, name, None)) for name in VALUES)
        factors = {name: 10.0 ** random.uniform(-1.0, 1.0) for name in VALUES}
        factors["strikes"] = factors["volts"]  # a glow tube burns below what strikes it
        return {name: value * factors[name] for name, value in held if value is not None}

    if isinstance(element, Transformer):
        coils = tuple(coil._replace(**spread(coil)) for coil in element.coils)
        return element._replace(coils=coils, **spread(element))
    return element._replace(**spread(element))  # type: ignore[call-arg, arg-type]


def solvable(circuit: Circuit) -> bool:
    """Whether every node is joined to ground by something that carries direct current."""
    graph = nx.Graph()
    graph.add_node(circuit.ground)
    for element in circuit.elements:
        graph.add_nodes_from(terminals(element))
        match element:
            case Resistor() | Inductor() | Source():
                graph.add_edge(element.a, element.b)
            case Transformer(coils=coils):
                graph.add_edges_from((coil.a, coil.b) for coil in coils)
            case _:
                pass
    return bool(nx.is_connected(graph))


def with_battery(circuit: Circuit, volts: float) -> Circuit:
    """The circuit on direct current: a battery at the rectifier's output."""
    return circuit._replace(elements=(*circuit.elements, Source("battery", "B1", "0", dc=volts)))


def judge(circuit: Circuit, seed: int) -> Verdict:
    """Every analysis of one circuit, each checked by what it published."""
    random = np.random.default_rng(seed)
    refused: dict[str, str] = {}
    wrong: list[str] = []
    linear: list[str] = []

    def steady() -> list[str]:
        state = periodic_state(circuit)
        linear.extend(n for n in state.bent() if n in state.network.diodes.names)
        return faults_of_state(circuit, state)

    volts = float(random.uniform(50.0, 600.0))
    charged = {
        e.name: float(random.uniform(-400.0, 400.0))
        for e in circuit.elements
        if isinstance(e, Capacitor)
    }
    powered = with_battery(circuit, volts)
    for title, what, work in (
        ("operating point", powered, lambda: _point(powered, operating_point(powered))),
        ("steady state", circuit, steady),
        ("cold start", circuit, lambda: _start(circuit, cold_start(circuit, cycles=CYCLES))),
        ("discharge", circuit, lambda: _decay(circuit, charged)),
    ):
        try:
            wrong += [f"{title}: {fault}" for fault in work()]
        except NotSolved as refusal:
            refused[title] = str(refusal)
            known = {n for e in what.elements for n in (e.name, *terminals(e))}
            known |= {c.name for e in what.elements if isinstance(e, Transformer) for c in e.coils}
            named = {*refusal.nodes, *refusal.elements}
            if not named or not named <= known or not any(n in str(refusal) for n in named):
                wrong.append(f"{title}: names nothing of the circuit: {refusal}")
    return Verdict(solvable(circuit), refused, wrong, tuple(linear))


def _point(circuit: Circuit, point: Point) -> list[str]:
    figures = [*point.volts.values(), *point.amperes.values()]
    if not np.all(np.isfinite(figures)):
        return ["not finite"]
    worst, largest = kirchhoff.imbalance(circuit, point)
    return [] if worst <= 1e-6 * largest + 1e-7 else [f"{worst:.2g} A of {largest:.2g} A lost"]


def _wave(circuit: Circuit, found: Waves, share: float) -> list[str]:
    if not (np.all(np.isfinite(found.solution)) and np.all(np.isfinite(found.junction_amperes))):
        return ["not finite"]
    worst, largest = kirchhoff.imbalance(circuit, found)
    return [] if worst <= share * largest + 2e-7 else [f"{worst:.2g} A of {largest:.2g} A lost"]


def faults_of_state(circuit: Circuit, state: PeriodicState) -> list[str]:
    """What a published state misses of Kirchhoff's law, the power balance and the diodes' laws."""
    faults = _wave(circuit, state, 1e-5)
    taken, delivered = kirchhoff.power(circuit, state)
    for tube in circuit.elements:
        if isinstance(tube, Triode | Pentode):
            driven = state.volts(tube.grid) - state.volts(tube.cathode)
            taken += float(np.mean(driven * state.grid_amperes(tube.name)))
    if abs(taken) > 1e-3 * delivered + 1e-6:
        faults.append(f"{taken:.2g} W of {delivered:.2g} W lost")
    volts = state.network.diode_ports @ state.solution
    law = state.network.diodes.currents(volts)[0]
    miss = np.abs(law - state.junction_amperes)[state.swinging].max(initial=0.0)
    if miss > 1e-3 * np.abs(law).max(initial=0.0) + 1e-6:
        faults.append(f"a rectifier is {miss:.2g} A off its law")
    return faults


def _start(circuit: Circuit, start: Start) -> list[str]:
    # At time 0 capacitors take a current that no voltage shows yet.
    later = dataclasses.replace(
        start,
        time=start.time[1:],
        solution=start.solution[:, 1:],
        charging=start.charging[:, 1:],
        junction_amperes=start.junction_amperes[:, 1:],
    )
    return _wave(references.drawing_nothing(circuit), later, 1e-5)


def _decay(circuit: Circuit, charged: dict[str, float]) -> list[str]:
    found = decay(circuit, charged)
    faults = []
    for name in charged:
        seconds = found.seconds_to(name, 50.0)
        if math.isnan(seconds) or seconds < 0.0:
            faults.append(f"{name} takes {seconds} s")
        elif seconds < math.inf and abs(found.volts_at(name, seconds * 1.001 + 1e-9)) > 50.1:
            faults.append(f"{name} is above 50 V after {seconds} s")
    return faults
