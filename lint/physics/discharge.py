"""How capacitors lose their charge once the mains is off: sums of exponentials, exactly.

With every source, load, tube and diode taken out, resistors (and the wire of coils) join nodes
into clusters, and capacitors sit between nodes.  Within its cluster a node has the voltage p to
the cluster's reference, and clusters keep their total charge.  Eliminating the clusters' voltages
leaves K p' = -G p with both matrices symmetric, K semidefinite and G definite, so that the time
constants are the eigenvalues of L^-1 K L^-T with G = L L^T.  What the clusters keep for ever is
found from their charges alone; nothing leaks that the circuit does not let leak.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Inductor,
    NotSolved,
    Resistor,
    Transformer,
)
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.floating import Clusters, terminals
from coldcheck.lint.physics.matrices import SMALLEST_OHMS
from coldcheck.lint.physics.usable import require_numbers

INSTANT = 1e-12
"""Time constants below this share of the longest one are nodes without capacitance; our choice."""
DECADE = np.geomspace(1.0, 10.0, 300)
"""Grid on which the last crossing is looked for, before it is narrowed down; our choice."""
FINER = np.linspace(0.0, 1.0, 33)
SURE = 1e-12
"""Relative step at which Newton's method for the crossing ends; our choice."""


class Decay(NamedTuple):
    """Voltage of each capacitor after switch-off: kept + sum of parts * exp(-t / constants)."""

    names: Mapping[str, int]
    constants: Array
    """(modes,) time constants in seconds."""
    parts: Array
    """(capacitors, modes) in volts."""
    kept: Array
    """(capacitors,) volts that remain for ever; exactly 0 where a path drains them."""

    def volts_at(self, capacitor: str, seconds: float) -> float:
        """Voltage a to b at a time after switch-off; at 0 after charge has been shared between
        capacitors in parallel.  KeyError when there is no such capacitor."""
        k = self.names[capacitor]
        return float(self._at(k, np.array([seconds]))[0])

    def seconds_to(self, capacitor: str, volts: float) -> float:
        """Time of the last crossing of ``volts`` by the size of the voltage.

        0 when it is never above, math.inf when it never stays below.  ``volts`` > 0.
        """
        k = self.names[capacitor]
        if abs(self.kept[k]) >= volts:
            return math.inf
        sizes = np.abs(self.parts[k])
        if abs(self.kept[k]) + float(np.sum(sizes)) <= volts:
            return 0.0
        room = (volts - abs(self.kept[k])) / max(1, sizes.size)
        lasting = self.constants * np.log(np.maximum(sizes / room, 1.0))
        horizon = float(np.max(lasting, initial=0.0))
        if horizon == 0.0:
            return 0.0
        sinking = self._sinking_to(k, volts, int(np.argmax(lasting)), horizon)
        if sinking is not None:
            return sinking
        first = min(float(self.constants.min()), horizon) * 1e-3
        # from the far end, where nothing is above: most cross within a decade of it
        low = high = horizon
        while low > 0.0:
            high, low = low, 0.1 * low if low > first else 0.0
            grid = high / 10.0 * DECADE if low > 0.0 else np.array([0.0])
            above = np.nonzero(np.abs(self._at(k, grid)) > volts)[0]
            if above.size:
                low = float(grid[above[-1]])
                high = float(grid[above[-1] + 1]) if above[-1] + 1 < grid.size else high
                break
        else:
            return 0.0
        for _ in range(7):  # a 32nd of it each time, down to rounding
            parts = low + (high - low) * FINER
            last = int(np.nonzero(np.abs(self._at(k, parts[:-1])) > volts)[0].max(initial=0))
            low, high = float(parts[last]), float(parts[last + 1])
        return high

    def surely_below(self, capacitor: str, volts: float, seconds: float) -> bool:
        """Whether from a time on it is not above, even were all that decays of one sign.

        False says nothing; what it takes is a tenth of :meth:`seconds_to`.
        """
        k = self.names[capacitor]
        left = np.abs(self.parts[k]) @ np.exp(-seconds / self.constants)
        return bool(abs(self.kept[k]) + left <= volts)

    def _sinking_to(self, k: int, volts: float, mode: int, horizon: float) -> float | None:
        """The last crossing where one mode alone decides that the voltage falls; else None.

        Looked at from half the time that mode would take by itself.  Against its slope that of any
        other only grows or only shrinks, so that both ends of a span speak for all of it.
        """
        parts, rates = self.parts[k], 1.0 / self.constants
        sign, alone = math.copysign(1.0, parts[mode]), float(self.constants[mode])
        seconds = float(alone * math.log(max(abs(parts[mode]) / volts, 1.0)))
        low, high = 0.5 * seconds, horizon
        slopes = np.abs(parts) * rates * np.exp(-np.array([[low], [high]]) * rates)
        others = np.max(slopes / slopes[:, mode, None], axis=0).sum() - 1.0
        if not others < 1.0 or sign * self._at(k, np.array([low]))[0] <= volts:
            return None
        for _ in range(100):
            left = sign * parts * np.exp(-seconds * rates)
            above = float(sign * self.kept[k] + left.sum()) - volts
            low, high = (seconds, high) if above > 0.0 else (low, seconds)
            step = above / float(left @ rates)
            if abs(step) <= SURE * seconds:
                break
            onward = seconds + step
            seconds = onward if low < onward < high else 0.5 * (low + high)
        return seconds

    def _at(self, k: int, seconds: Array) -> Array:
        decay = np.exp(-seconds[:, None] / self.constants[None, :])
        return np.asarray(self.kept[k] + decay @ self.parts[k])


def decay(circuit: Circuit, initial: Mapping[str, float]) -> Decay:
    """Discharge from ``initial`` volts (a minus b) of named capacitors; others start empty.

    Sources and current loads are removed, tubes and diodes do not conduct, inductors and coils
    are the resistance of their wire.  Capacitors that end up in parallel share their charge at
    once.  Raises NotSolved for unusable values, KeyError for an unknown capacitor.
    """
    nodes: dict[str, int] = {circuit.ground: 0}
    wires: list[tuple[str, str, float]] = []
    capacitors: list[Capacitor] = []
    for element in circuit.elements:
        require_numbers(element)
        for node in terminals(element):
            nodes.setdefault(node, len(nodes))
        match element:
            case Resistor() | Inductor():
                wires.append((element.a, element.b, element.ohms))
            case Transformer(coils=coils):
                wires.extend((coil.a, coil.b, coil.ohms) for coil in coils)
            case Capacitor():
                capacitors.append(element)
            case _:
                pass
    names = {c.name: k for k, c in enumerate(capacitors)}
    volts = np.zeros(len(capacitors))
    for name, value in initial.items():
        if not math.isfinite(value):
            raise NotSolved(f"capacitor {name} has no usable starting voltage", elements=(name,))
        volts[names[name]] = value

    size = len(nodes)
    conductance = np.zeros((size, size))
    clusters = Clusters()
    for node in nodes:
        clusters.find(node)
    for a, b, ohms in wires:
        clusters.join(a, b)
        i, j, siemens = nodes[a], nodes[b], 1.0 / max(ohms, SMALLEST_OHMS)
        conductance[[i, j], [i, j]] += siemens
        conductance[[i, j], [j, i]] -= siemens
    across = np.zeros((size, len(capacitors)))
    for k, capacitor in enumerate(capacitors):
        across[nodes[capacitor.a], k] += 1.0
        across[nodes[capacitor.b], k] -= 1.0
    storage = np.array([c.farads for c in capacitors])
    capacitance = (across * storage) @ across.T
    charge = across @ (storage * volts)

    groups = clusters.groups()
    member = np.zeros((size, len(groups)))
    inner: list[int] = []
    for k, group in enumerate(groups):
        member[[nodes[n] for n in group], k] = 1.0
        inner.extend(nodes[n] for n in group[1:])
    drain = _pseudo_inverse(member.T @ capacitance @ member, groups, capacitors, nodes, clusters)
    resting = member @ (drain @ (member.T @ charge))
    kept = across.T @ resting
    for k, capacitor in enumerate(capacitors):
        if clusters.find(capacitor.a) == clusters.find(capacitor.b):
            kept[k] = 0.0
    constants, parts = _modes(conductance, capacitance, member, drain, charge, across, inner)
    return Decay(names, constants, parts, kept)


def _pseudo_inverse(
    matrix: Array,
    groups: list[list[str]],
    capacitors: list[Capacitor],
    nodes: Mapping[str, int],
    clusters: Clusters,
) -> Array:
    """Solve capacitance between clusters for their voltages, one cluster per island at zero.

    Islands are clusters joined by capacitors; which cluster of each is the reference does not
    matter to any voltage across a capacitor.
    """
    place = {clusters.find(group[0]): k for k, group in enumerate(groups)}
    islands = Clusters()
    for k in range(len(groups)):
        islands.find(str(k))
    for capacitor in capacitors:
        if capacitor.farads > 0.0:
            a, b = place[clusters.find(capacitor.a)], place[clusters.find(capacitor.b)]
            islands.join(str(a), str(b))
    free = [int(k) for island in islands.groups() for k in island[1:]]
    found = np.zeros_like(matrix)
    if free:
        found[np.ix_(free, free)] = np.linalg.inv(matrix[np.ix_(free, free)])
    return found


def _modes(
    conductance: Array,
    capacitance: Array,
    member: Array,
    drain: Array,
    charge: Array,
    across: Array,
    inner: list[int],
) -> tuple[Array, Array]:
    """Time constants, (modes,), and what each adds to each capacitor's voltage, (c, modes)."""
    if not inner:
        return np.zeros(0), np.zeros((across.shape[1], 0))
    shared = capacitance @ member @ drain @ member.T
    inside = (capacitance - shared @ capacitance)[np.ix_(inner, inner)]
    pushed = (charge - shared @ charge)[inner]
    lower = np.linalg.cholesky(conductance[np.ix_(inner, inner)])
    half = np.linalg.solve(lower, inside)
    constants, vectors = np.linalg.eigh(_symmetric(np.linalg.solve(lower, half.T)))
    lasting = constants > INSTANT * constants[-1]
    constants, vectors = constants[lasting], vectors[:, lasting]
    weights = (vectors.T @ np.linalg.solve(lower, pushed)) / constants
    spread = np.zeros((conductance.shape[0], constants.size))
    spread[inner] = np.linalg.solve(lower.T, vectors * weights)
    spread -= member @ (drain @ (member.T @ (capacitance @ spread)))
    return constants, across.T @ spread


def _symmetric(matrix: Array) -> Array:
    return np.asarray(0.5 * (matrix + matrix.T))
