"""What a number of builds of one circuit do at dc, their parts being off by this and that much.

Rectifiers are taken as they act on their load in the mean (:meth:`PeriodicState.averaged`).  What
is left is the dc circuit, seen from the ports y of its tubes and steady diodes and from its varied
resistors: with J the matrix of the circuit linearised as drawn and P the rows of those ports,

    y = open - P J^-1 P^T c(y),    c = (i(v) - g v for devices, (1 / R' - 1 / R) u for resistors),

the same matrix for every build, so that all builds are one array.  That is a chord Newton
iteration; it is quickened build by build from its last few steps (D. G. Anderson, "Iterative
procedures for nonlinear integral equations", J. ACM 12, 547, 1965).  A build that does not settle
is solved by itself, with :func:`coldcheck.lint.physics.dc.solve`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.physics.circuit import NotSolved, Resistor
from coldcheck.lint.physics.dc import Devices, Equations, solve
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.periodic import PeriodicState

Places = NDArray[np.intp]

ROUNDS = 40
"""Iterations after which a build is solved by itself; most need eight."""
REMEMBERED = 3
"""Earlier steps that an iteration looks back on; more of them gained nothing on amplifiers."""
SETTLED = 1e-6
"""Last change of every port, in volts, at which a build is settled; our choice."""
BAND = (0.05, 0.5, 0.95)
"""Shares of the builds that lie below the three figures of a band; our choice."""


class Builds(NamedTuple):
    """How builds differ from the circuit as drawn: factors, each (samples,), by element name."""

    supply: Array
    """On every voltage that a rectifier is fed."""
    ohms: Mapping[str, Array]
    """On resistors."""
    amperes: Mapping[str, Array]
    """On the plate and screen current of a tube at the same voltages."""
    volts: Mapping[str, Array]
    """On the voltage of a diode at the same current: zeners and gas-filled regulators."""

    def chosen(self, builds: Places) -> Builds:
        """Those of the given numbers only."""
        parts = ({name: f[builds] for name, f in each.items()} for each in self[1:])
        return Builds(self.supply[builds], *parts)


class Band(NamedTuple):
    """Where a figure lies over the builds: 5 % of them are below low, 5 % above high."""

    low: float
    middle: float
    high: float


def band(values: Array) -> Band:
    """The band of a figure that is known for every build, (samples,)."""
    ordered = np.sort(values)
    return Band(*np.interp(BAND, np.linspace(0.0, 1.0, ordered.size), ordered).tolist())


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Every build's dc state.  Voltages are to ground, in volts; (samples,) throughout.

    Heat holds, besides what dc gives, what ripple adds in the state as drawn, with the square of
    the supply; on a resistor its ripple is taken as a given voltage.
    """

    state: PeriodicState
    builds: Builds
    """The builds that were solved."""
    solution: Array
    """(n, samples) unknowns of :class:`~coldcheck.lint.physics.matrices.Network`."""
    port_amperes: Array
    """(m, samples) currents of the tubes' ports."""
    lost: int
    """How many builds have no solution here; they are in none of the figures."""
    as_drawn: tuple[str, ...]
    """Elements whose factor has no place in this method, and is left out: diodes that are
    rectifiers, resistors next to nothing."""

    def volts(self, node: str) -> Array:
        """KeyError when there is no such node."""
        return np.array(self.state.network.volts(self.solution, node))

    def plate_amperes(self, tube: str) -> Array:
        return np.array(self.port_amperes[self.state.network.tubes.plate_port[tube]])

    def screen_amperes(self, tube: str) -> Array:
        return np.array(self.port_amperes[self.state.network.tubes.screen_port[tube]])

    def grid_amperes(self, tube: str) -> Array:
        return np.array(self.port_amperes[self.state.network.tubes.grid_port[tube]])

    def plate_watts(self, tube: str) -> Array:
        """Heat of a tube's plate."""
        port, mean = self.state.network.tubes.plate_port[tube], self.state.watts(tube)
        return self._port_watts(port, mean)

    def screen_watts(self, tube: str) -> Array:
        """Heat of a pentode's screen."""
        port, mean = self.state.network.tubes.screen_port[tube], self.state.screen_watts(tube)
        return self._port_watts(port, mean)

    def resistor_watts(self, name: str) -> Array:
        element = _resistor(self.state.network, name)
        known = name in self.builds.ohms and name not in self.as_drawn
        factor = self.builds.ohms[name] if known else np.ones(1)
        still = np.mean(self.state.across(name)) ** 2 / element.ohms
        ripple = self.state.watts(name) - still
        across = self.state.network.across(self.solution, name)
        return (across**2 / element.ohms + ripple * self.builds.supply**2) / factor

    def _port_watts(self, port: int, mean: float) -> Array:
        row = self.state.network.tube_ports[port]
        wave = row @ self.state.solution
        ripple = mean - np.mean(wave) * np.mean(self.state.tube_amperes[port])
        still = (row @ self.solution) * self.port_amperes[port]
        return np.asarray(still + ripple * self.builds.supply**2)


def spread(state: PeriodicState, builds: Builds) -> Spread:
    """Every build's dc state, from the steady state of the circuit as drawn.

    Supplies with tube rectifiers that are 10 % off come out within 1 % of the full solution, with
    silicon ones within 0.1 %.  Raises KeyError when a factor names no element of its kind.
    """
    reduced = _Reduced(state, builds)
    ports, alone = reduced.together()
    lost: list[int] = []
    for build in alone.tolist():
        try:
            ports[:, build] = reduced.rows @ reduced.by_itself(build)
        except NotSolved:
            lost.append(build)
    kept = np.delete(np.arange(builds.supply.size), lost)
    if lost:
        reduced, ports = _Reduced(state, builds.chosen(kept)), ports[:, kept]
    solution = reduced.unknowns(ports)
    tubes = state.network.tubes.count
    amperes = reduced.gain[:tubes] * state.network.tubes.law(ports[:tubes])[0]
    return Spread(state, builds.chosen(kept), solution, amperes, len(lost), reduced.as_drawn)


class _Reduced:
    """The circuit as its devices and its varied resistors see it, and each build's factors."""

    def __init__(self, state: PeriodicState, builds: Builds) -> None:
        network, averaged = state.network, state.averaged()
        self.network = network
        self.devices = Devices.steady(network, state.swinging)
        self.as_drawn = tuple(self._without_place(builds))
        varied = [name for name in builds.ohms if name not in self.as_drawn]
        self.rows = np.vstack([self.devices.ports, _across(network, varied)])
        self.matrix = averaged.into(network.dc)
        self.fed = averaged.rows.T @ averaged.amperes
        self.supply = builds.supply
        ohms = np.array([[_resistor(network, name).ohms] for name in varied])
        factors = np.array([builds.ohms[name] for name in varied])
        factors = factors.reshape(len(varied), self.supply.size)
        self.siemens = (1.0 / factors - 1.0) / ohms.reshape(-1, 1)
        self.gain, self.stretch = np.ones((2, self.devices.count, self.supply.size))
        for name, factor in builds.amperes.items():
            self.gain[network.tubes.plate_port[name]] = factor
            if name in network.tubes.screen_port:
                self.gain[network.tubes.screen_port[name]] = factor
        still_port = {name: k for k, name in enumerate(self.devices.diodes.names)}
        for name, factor in builds.volts.items():
            if name not in self.as_drawn:
                self.stretch[network.tubes.count + still_port[name]] = factor
        self.start = np.concatenate(
            [state.still_volts, self.rows[self.devices.count :] @ state.solution.mean(axis=1)]
        )
        self._linearise()

    def _without_place(self, builds: Builds) -> list[str]:
        rectifiers = set(self.network.diodes.names) - set(self.devices.diodes.names)
        resistors = [_resistor(self.network, name).name for name in builds.ohms]
        return [name for name in resistors if name in self.network.branch] + [
            name for name in builds.volts if name in rectifiers
        ]

    def _linearise(self) -> None:
        """Responses of the circuit as drawn to its sources and to a current in each port."""
        split, network = self.devices.count, self.network
        self.slope = self.devices.law(self.start[:split])[1]
        ports = self.devices.ports
        matrix = self.matrix + ports.T @ self.slope @ ports
        columns = np.column_stack([self.rows.T, network.steady, self.fed])
        solved = network.solved(matrix, columns)
        self.response, self.opened = solved[:, :-2], solved[:, -2:]

    def currents(self, volts: Array, gain: Array, stretch: Array) -> Array:
        """Port currents (m, samples) at ``volts`` (m, samples), factors likewise."""
        split = self.network.tubes.count
        tubes = gain[:split] * self.network.tubes.law(volts[:split])[0]
        diodes = self.devices.diodes.currents(volts[split:] / stretch[split:])[0]
        return np.concatenate([tubes, diodes])

    def _law(self, volts: Array, build: int) -> tuple[Array, Array]:
        """As :meth:`Devices.law`, of one build's devices."""
        gain, stretch = self.gain[:, build], self.stretch[:, build]
        current, jacobian = self.devices.law(volts / stretch)
        return gain * current, gain[:, None] * jacobian / stretch

    def _pull(self, y: Array, gain: Array, stretch: Array, siemens: Array) -> Array:
        """c(y): what the ports draw beyond the circuit as drawn and linearised, in amperes."""
        split = self.devices.count
        beyond = self.currents(y[:split], gain, stretch) - self.slope @ y[:split]
        return np.concatenate([beyond, siemens * y[split:]])

    def together(self) -> tuple[Array, Places]:
        """Ports (q, samples) of every build, and the numbers of the builds that did not settle."""
        split, samples = self.devices.count, self.supply.size
        answer, opened = self.rows @ self.response, self.rows @ self.opened
        free = opened[:, :1] + opened[:, 1:] * self.supply
        factors = [self.gain, self.stretch, self.siemens]
        y = np.repeat(self.start[:, None], samples, axis=1)
        found, here = y.copy(), np.arange(samples)
        past: list[tuple[Array, Array]] = []
        with np.errstate(all="ignore"):
            for _ in range(ROUNDS):
                goal = free - answer @ self._pull(y, *factors)
                step = goal - y
                unsettled = ~(np.max(np.abs(step), axis=0, initial=0.0) <= SETTLED)
                past = [*past[-REMEMBERED:], (goal, step[:split])]
                if 2 * np.count_nonzero(unsettled) <= here.size:
                    found[:, here] = goal
                    here, free = here[unsettled], free[:, unsettled]
                    factors = [f[:, unsettled] for f in factors]
                    past = [(a[:, unsettled], b[:, unsettled]) for a, b in past]
                    if not here.size:
                        break
                y = _quickened(past)
        return found, here

    def by_itself(self, build: int) -> Array:
        """Unknowns (n,) of one build by the full method; raises NotSolved."""
        split = self.devices.count
        rows = self.rows[split:]
        equations = Equations(
            self.matrix + rows.T @ (self.siemens[:, build, None] * rows),
            self.network.steady + self.supply[build] * self.fed,
            self.devices.ports,
            lambda volts: self._law(volts, build),
            self.devices.reach,
            self.devices.nodes,
        )
        return solve(self.network, equations, self.start[:split])

    def unknowns(self, ports: Array) -> Array:
        """All unknowns (n, samples) from what the ports are at."""
        free = self.opened[:, :1] + self.opened[:, 1:] * self.supply
        pull = self._pull(ports, self.gain, self.stretch, self.siemens)
        return np.asarray(free - self.response @ pull)


def _quickened(past: list[tuple[Array, Array]]) -> Array:
    """Where to go on from: the mixture of the goals (q, samples) of the given iterations, last
    one last, that would have had the least step; of a step (m, samples) only the devices' part
    is given, all else being linear."""
    goal, step = past[-1]
    if len(past) == 1:
        return goal
    turned = np.stack([step - before for _, before in past[:-1]])
    products = np.einsum("iqs,jqs->sij", turned, turned)
    size = np.einsum("sii->s", products)[:, None, None]
    products += (1e-14 * size + 1e-30) * np.eye(len(turned))
    wanted = np.einsum("iqs,qs->si", turned, step)
    mixture = np.linalg.solve(products, wanted[:, :, None])[:, :, 0]
    mixed = (1.0 - mixture.sum(axis=1)) * goal
    for share, (earlier, _) in zip(mixture.T, past[:-1], strict=True):
        mixed += share * earlier
    return np.asarray(mixed)


def _resistor(network: Network, name: str) -> Resistor:
    element = network.elements[name]
    if not isinstance(element, Resistor):
        raise KeyError(name)
    return element


def _across(network: Network, resistors: list[str]) -> Array:
    """Rows (r, n) that give the voltage of each resistor."""
    rows = np.zeros((len(resistors), network.size + 1))
    for row, name in zip(rows, resistors, strict=True):
        element = _resistor(network, name)
        row[network.index[element.a]] += 1.0
        row[network.index[element.b]] -= 1.0
    return rows[:, 1:]
