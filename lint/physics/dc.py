"""Direct-current operating point: Newton's method that limits the devices, not the step.

Each port of a tube or diode keeps the voltage it was last linearised at; a Newton solution moves
that voltage by a bounded amount only.  When this does not settle, three well-known detours follow:
pseudo-transient, conductance stepping, source stepping (C. T. Kelley and D. E. Keyes, SIAM J.
Numer. Anal. 35, 508, 1998; L. W. Nagel, "SPICE2", Univ. of California memo ERL-M520, 1975).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Capacitor,
    Circuit,
    CurrentLoad,
    GlowTube,
    Mosfet,
    NotSolved,
    Pentode,
    Regulator,
    Resistor,
    SiliconDiode,
    Transformer,
    Triode,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.junctions import Junctions, Mask
from coldcheck.lint.physics.limits import Turns
from coldcheck.lint.physics.matrices import Network

ITERATIONS = 80
SETTLED = 1e-7
"""Relative step of every port voltage with which the iteration ends: the next would be of the size
of its square; our choice."""
RESIDUAL = 1e-8
"""How far Kirchhoff's law may be missed, as :meth:`Equations.miss` counts; our choice."""
LEAKAGE = 1e-12
"""The same after ``PATIENCE`` steps, for a node that hangs on leakage and so has no voltage to
speak of; our choice."""
PATIENCE = 4
RUNAWAY = 1e5
"""A node above this many volts is not an amplifier's but an undefined one; our choice."""

Law = Callable[[Array], tuple[Array, Array]]


class Point(NamedTuple):
    """Voltages and currents with every source at its dc value.

    ``volts``: node to ground.  ``amperes``: current of each element and coil from a to b, anode
    to cathode, into the plate of a tube, into the collector or drain of a transistor, out of a
    regulator's output.  ``screen_amperes``, ``grid_amperes``: current into those electrodes, per
    tube.  ``terminal_amperes``: currents into the terminals of each transistor and regulator, in
    the order of :func:`coldcheck.lint.physics.floating.terminals`.  ``dark``: the glow tubes that
    do not strike.
    """

    volts: Mapping[str, float]
    amperes: Mapping[str, float]
    screen_amperes: Mapping[str, float]
    grid_amperes: Mapping[str, float]
    terminal_amperes: Mapping[str, tuple[float, ...]]
    dark: tuple[str, ...]


class Equations(NamedTuple):
    """G x + D^T i(D x) = s, and how far a Newton step may move each port."""

    matrix: Array
    source: Array
    ports: Array
    law: Law
    reach: Array
    nodes: int

    def residual(self, x: Array, current: Array | None = None) -> Array:
        """Left minus right side, (n,); the first ``nodes`` of them in amperes.

        ``current``: the port currents there, if known.
        """
        if current is None:
            current = self.law(self.ports @ x)[0]
        return np.asarray(self.matrix @ x + self.ports.T @ current - self.source)

    def miss(self, x: Array, current: Array | None = None) -> float:
        """Largest current by which Kirchhoff's law is missed, in amperes, or as a share of the
        largest source where that is above an ampere."""
        scale = np.max(np.abs(self.source[: self.nodes]), initial=1.0)
        missed = np.abs(self.residual(x, current)[: self.nodes])
        return float(np.max(missed, initial=0.0) / scale)

    def rounding(self, x: Array) -> float:
        """Current in amperes by which it is missed for want of digits, at a node of good wires."""
        summed = np.abs(self.matrix[: self.nodes]) @ np.abs(x)
        return float(np.max(summed, initial=0.0)) * 8.0 * float(np.finfo(float).eps)


class Devices:
    """All tubes of a network and some of its diodes, as one vector of ports with one law.

    ``diodes`` are those of :class:`Network` or a subset of them, ``rows`` (p, n) their ports.
    """

    def __init__(self, network: Network, diodes: Junctions, rows: Array) -> None:
        self.tubes, self.diodes, self.nodes = network.tubes, diodes, network.nodes
        self.count = self.tubes.count + diodes.count
        self.ports = np.vstack([network.tube_ports, rows])
        self.start = np.concatenate([self.tubes.start, diodes.start])
        self.reach = np.concatenate([self.tubes.reach, diodes.reach])

    @classmethod
    def steady(cls, network: Network, swinging: Mask) -> Devices:
        """All but the diodes ``swinging``, (p,), which are solved over the cycle."""
        return cls(network, network.diodes.subset(~swinging), network.diode_ports[~swinging])

    def laws(self, volts: Array) -> tuple[Array, Array]:
        """Port currents, (count, samples), and their Jacobians, (samples, count, count)."""
        tubes, split = self.tubes, self.tubes.count
        current, by = tubes.law(volts[:split])
        jacobian = np.zeros((volts.shape[1], self.count, self.count))
        jacobian[:, tubes.row, tubes.column] = by.T
        if split < self.count:
            junction, slopes = self.diodes.law(volts[split:])
            diagonal = np.arange(split, self.count)
            jacobian[:, diagonal, diagonal] = slopes.own.T
            jacobian[:, split + slopes.row, split + slopes.column] = slopes.cross.T
            current = np.concatenate([current, junction])
        return current, jacobian

    def law(self, volts: Array) -> tuple[Array, Array]:
        """Port currents, (count,), and their Jacobian, (count, count)."""
        current, jacobian = self.laws(volts[:, None])
        return current[:, 0], jacobian[0]

    def curvature(self, volts: Array) -> Array:
        """What a swing over ``volts`` (count, samples) adds to the tubes' mean currents, (count,)."""
        added, split = np.zeros(self.count), self.tubes.count
        if split:
            mean = self.tubes.currents(volts[:split].mean(axis=1))[0]
            added[:split] = self.tubes.law(volts[:split])[0].mean(axis=1) - mean
        return added

    def equations(self, matrix: Array, source: Array) -> Equations:
        return Equations(matrix, source, self.ports, self.law, self.reach, self.nodes)


def operating_point(circuit: Circuit) -> Point:
    """Solve a circuit with every source at its dc value.

    At dc a capacitor is open, an inductor and every coil are their wire's resistance.  A glow tube
    glows if, dark, it would have its striking voltage.  Raises NotSolved, naming a node or element,
    when no solution is found.
    """
    network = Network(circuit)
    dark = np.ones(network.diodes.glow.size, dtype=bool)
    while True:
        if dark.size:
            network.diodes = network.diodes.darkened(dark)
        devices = Devices(network, network.diodes, network.diode_ports)
        equations = devices.equations(network.dc, network.steady)
        x = polished(network, equations, solve(network, equations, devices.start))
        struck = dark & network.diodes.strikes(network.diode_ports @ x[:, None])[:, 0]
        if not struck.any():
            return _point(network, x, devices.law(devices.ports @ x)[0])
        dark &= ~struck


def solve(network: Network, equations: Equations, start: Array) -> Array:
    """Solution x of the equations from the port voltages ``start``; else raises NotSolved."""
    if not start.size:
        x = network.solved(equations.matrix, equations.source)
        return checked(network, x)
    for attempt in (newton, pseudo_transient, conductance_stepping, source_stepping):
        found, x = attempt(network, equations, start)
        if found and equations.miss(x) < RESIDUAL:
            return checked(network, x)
    worst = int(np.argmax(np.abs(equations.ports.T @ (equations.ports @ x - start))))
    node = network.node_of(worst)
    raise NotSolved(f"no operating point was found; node {node} does not settle", (node,))


def polished(network: Network, equations: Equations, x: Array) -> Array:
    """A solution, or one Newton step on where that misses Kirchhoff's law by less.

    What is settled by its voltages may still be a few parts in 1e9 of its currents off.
    """
    volts = equations.ports @ x
    current, jacobian = equations.law(volts)
    nearer = _linearised(network, equations, volts, current, jacobian)
    return nearer if equations.miss(nearer) < equations.miss(x, current) else x


def _linearised(
    network: Network, equations: Equations, volts: Array, current: Array, jacobian: Array
) -> Array:
    """The unknowns with every law taken as its tangent at port voltages ``volts``."""
    ports = equations.ports
    matrix = equations.matrix + ports.T @ jacobian @ ports
    return network.solved(matrix, equations.source - ports.T @ (current - jacobian @ volts))


def newton(
    network: Network, equations: Equations, start: Array, settled: float = SETTLED
) -> tuple[bool, Array]:
    """Device-limited Newton iteration; whether it settled, and the last x."""
    ports, law = equations.ports, equations.law
    at, turns = start.copy(), Turns(equations.reach, start)
    x, followed = np.zeros(equations.matrix.shape[0]), False
    for count in range(ITERATIONS):
        current, jacobian = law(at)
        # A node on leakage alone may wander without any current to show for it.
        patient = followed and count >= PATIENCE
        if patient and equations.miss(x, current) < max(LEAKAGE, equations.rounding(x)):
            return True, x
        x = _linearised(network, equations, at, current, jacobian)
        change = ports @ x - at
        if np.all(np.abs(change) <= settled * (1.0 + np.abs(at))):
            return True, x
        step = turns.limited(at, change)
        followed = bool(np.all(step == change))
        at = at + step
    return False, x


def pseudo_transient(network: Network, equations: Equations, start: Array) -> tuple[bool, Array]:
    """Let every node have a conductance to where it was, and weaken it as the circuit settles."""
    siemens, x = 1e-3, np.zeros(equations.matrix.shape[0])
    diagonal = np.arange(equations.nodes)
    for _ in range(60):
        matrix, source = equations.matrix.copy(), equations.source.copy()
        matrix[diagonal, diagonal] += siemens
        source[: equations.nodes] += siemens * x[: equations.nodes]
        step = _replaced(equations, matrix, source)
        found, trial = newton(network, step, start)
        if not found:
            siemens *= 4.0
            if siemens > 1e3:
                return False, x
            continue
        x, start = trial, equations.ports @ trial
        siemens *= 0.2
        if siemens < 1e-12:
            return newton(network, equations, start)
    return False, x


def conductance_stepping(
    network: Network, equations: Equations, start: Array
) -> tuple[bool, Array]:
    """Shunt every node to ground, less and less."""
    diagonal = np.arange(equations.nodes)
    for siemens in 10.0 ** np.arange(-2.0, -13.5, -0.5):
        matrix = equations.matrix.copy()
        matrix[diagonal, diagonal] += siemens
        found, x = newton(network, _replaced(equations, matrix, equations.source), start)
        if not found:
            return False, x
        start = equations.ports @ x
    return newton(network, equations, start)


def source_stepping(network: Network, equations: Equations, start: Array) -> tuple[bool, Array]:
    """Raise every source from nothing, in steps that adapt."""
    done, step = 0.0, 0.1
    start, x = np.zeros_like(start), np.zeros(equations.matrix.shape[0])
    while done < 1.0:
        share = min(1.0, done + step)
        scaled = _replaced(equations, equations.matrix, share * equations.source)
        found, trial = newton(network, scaled, start)
        if found:
            done, x, start, step = share, trial, equations.ports @ trial, step * 1.5
        else:
            step *= 0.25
            if step < 1e-4:
                return False, x
    return True, x


def _replaced(equations: Equations, matrix: Array, source: Array) -> Equations:
    return Equations(
        matrix, source, equations.ports, equations.law, equations.reach, equations.nodes
    )


def checked(network: Network, x: Array) -> Array:
    """``x`` itself, unless a node of it has run away: then NotSolved is raised."""
    volts = np.abs(x[: network.nodes])
    if volts.size and not np.max(volts) < RUNAWAY:
        node = network.node_of(int(np.argmax(np.nan_to_num(volts, nan=np.inf))))
        raise NotSolved(f"nothing holds the voltage of node {node}", (node,))
    return x


def _point(network: Network, x: Array, port_current: Array) -> Point:
    tubes, diodes = network.tubes, network.diodes
    junction = port_current[tubes.count :, None]
    into: dict[str, tuple[float, ...]] = {}
    volts = {node: float(network.volts(x, node)) for node in network.index}
    amperes: dict[str, float] = {}
    for name, element in network.elements.items():
        match element:
            case Triode() | Pentode():
                amperes[name] = float(port_current[tubes.plate_port[name]])
            case Capacitor():
                amperes[name] = 0.0
            case CurrentLoad():
                amperes[name] = element.amperes
            case Resistor() if name not in network.branch:
                amperes[name] = (volts[element.a] - volts[element.b]) / element.ohms
            case SiliconDiode() | TubeDiode() | ZenerDiode() | GlowTube():
                amperes[name] = float(junction[network.port(name), 0])
            case Bipolar() | Mosfet() | Regulator():
                into[name] = tuple(diodes.into(element, junction)[:, 0].tolist())
                amperes[name] = -into[name][1] if isinstance(element, Regulator) else into[name][0]
            case Transformer():
                pass
            case _:
                amperes[name] = float(x[network.branch[name] - 1])
    return Point(
        volts,
        amperes,
        {name: float(port_current[k]) for name, k in tubes.screen_port.items()},
        {name: float(port_current[k]) for name, k in tubes.grid_port.items()},
        into,
        diodes.dark(),
    )
