"""Switching on from zero charge, tubes cold: peaks of voltage and inrush of current.

The circuit is stepped by the second-order backward difference formula, which damps what a diode
interrupts (C. W. Gear, "Numerical Initial Value Problems in Ordinary Differential Equations",
Prentice-Hall 1971), but a whole mains cycle at once: with the steps of a cycle eliminated, the
diodes see a causal response, and one nonlinear solve gives the cycle.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from coldcheck.lint.physics.circuit import Circuit, CurrentLoad, Pentode, Triode
from coldcheck.lint.physics.dc import Devices, solve
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.junctions import Junctions, Mask
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.ports import Feedback
from coldcheck.lint.physics.waves import Waves, largest

FIRST_INSTANT = 1e-9
"""Seconds after switch-on at which the first current is taken: short against any circuit's time
constants, so capacitors are still empty and inductors carry nothing; our choice."""

SUBSTEPS, LEVELS = 8, 2
"""Parts of the first step, and how often the first of them is parted again; our choice.  Taken
whole, it leaves capacitors 0.2 % wrong at 64 steps a cycle."""

BUSIER = 4
"""As many diodes as a port counts for that takes part nearly always; our choice."""

SHORTEST = 16
"""Fewest samples of a part of a cycle that is solved at once; our choice."""

STILL = 2e-5
"""Change of every stored voltage and current over a cycle, relative to the largest, that counts
as none; a filter of one second is then within 0.1 % of its end; our choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Start(Waves):
    """Every voltage and current from switch-on, read as Waves; peaks keep their sign.

    ``settled``: whether the last cycles were alike; if not, slow filters were still charging.
    """

    settled: bool

    def peak_volts(self, name: str) -> float:
        """Voltage a to b, anode to cathode, of the largest size an element or coil has seen."""
        return largest(self.across(name), closed=False)

    def peak_node(self, node: str) -> float:
        """Voltage to ground of the largest size a node has seen."""
        return largest(self.volts(node), closed=False)

    def peak_amperes(self, name: str) -> float:
        """Current of the largest size: inrush of a coil, diode, source, fuse or capacitor."""
        return largest(self.amperes(name), closed=False)


class Transient:
    """A transient from zero charge, stepped as far as it is asked for.

    Tubes and current loads draw nothing while cold and are left out; rectifiers conduct at once,
    transistors and regulators work, a glow tube is dark until its striking voltage first stands
    across it and then glows from that sample on.  Sources begin at time 0 with their phase: a
    source of phase pi / 2 is switched on at its crest.  ``remanent``: by name, the linear
    magnetising amperes a core begins with, seen at its first coil, or those of a choke.  Raises
    NotSolved when it cannot go on, KeyError for an unknown name.
    """

    def __init__(
        self, circuit: Circuit, samples: int = 128, remanent: Mapping[str, float] | None = None
    ) -> None:
        drawing = (Triode, Pentode, CurrentLoad)
        cold = tuple(e for e in circuit.elements if not isinstance(e, drawing))
        self._network = network = Network(Circuit(cold, circuit.ground, circuit.mains_hz))
        self._began = _magnetised(network, remanent or {})
        self._stepper = _Stepper(network, samples, samples)
        wave, current = self._stepper.first(self._began)
        self._waves, self._currents = [wave], [current]
        self._past = _before(network, samples, self._began)
        self._now, self._before = self._began, self._past
        self._cycles = self._calm = 0

    def upto(self, cycles: int) -> Start:
        """Everything from switch-on over ``cycles`` mains cycles, or more if there are already.

        Ends early once nothing changes from cycle to cycle.
        """
        while self._cycles < cycles and self._calm < 2:
            self._step()
        network, step = self._network, self._stepper.step
        solution = np.concatenate(self._waves, axis=1)
        stored = np.column_stack([self._past, network.incidence.T @ solution])
        stored[:, 1] = self._began
        charging = np.zeros((stored.shape[0], solution.shape[1]))
        charging[:, 1:] = (3.0 * stored[:, 2:] - 4.0 * stored[:, 1:-1] + stored[:, :-2]) / (
            2.0 * step
        )
        return Start(
            time=step * np.arange(solution.shape[1], dtype=float),
            network=network,
            solution=solution,
            charging=charging,
            junction_amperes=np.concatenate(self._currents, axis=1),
            settled=self._calm >= 2,
        )

    def _step(self) -> None:
        """One mains cycle on."""
        began, largest = self._now, 0.0
        for part in range(self._stepper.parts):
            wave, current = self._stepper.advance(part, self._now, self._before)
            self._waves.append(wave)
            self._currents.append(current)
            self._before, self._now = (self._network.incidence.T @ wave[:, -2:]).T
            largest = max(largest, float(np.max(np.abs(self._now), initial=0.0)))
        still = np.all(np.abs(self._now - began) <= STILL * largest)
        self._calm = self._calm + 1 if still else 0
        self._cycles += 1


def cold_start(
    circuit: Circuit,
    cycles: int = 50,
    samples: int = 128,
    remanent: Mapping[str, float] | None = None,
) -> Start:
    """A :class:`Transient` over at most ``cycles`` mains cycles."""
    return Transient(circuit, samples, remanent).upto(cycles)


def _magnetised(network: Network, remanent: Mapping[str, float]) -> Array:
    """What every capacitor and inductance holds before it all begins, (r,)."""
    held = np.zeros(network.storage.size)
    for name, amperes in remanent.items():
        flux = network.flux.get(name)
        reactance = 1.0 if flux is None else 1.0 / network.dc[flux - 1, flux - 1]
        held[network.column[name]] = amperes * reactance
    return held


def _before(network: Network, samples: int, began: Array, levels: int = LEVELS) -> Array:
    """What would have been held a step before the first, for the formula to be right in it.

    A sudden beginning has no past.  So the first step is taken in :data:`SUBSTEPS` small ones, the
    first of them likewise, and the formula is turned round to give where they led, and how fast.
    """
    fine = _Stepper(network, samples * SUBSTEPS, SUBSTEPS)
    now = before = began
    if levels > 1:
        before = _before(network, samples * SUBSTEPS, began, levels - 1)
    for part in range(fine.parts):
        wave, _ = fine.advance(part, now, before)
        third, before, now = (network.incidence.T @ wave[:, -3:]).T
    rate = SUBSTEPS * (3.0 * now - 4.0 * before + third)
    return np.asarray(4.0 * began - 3.0 * now + rate)


class _Stepper:
    """Steps x = memory @ (4 z - z_before) - entry @ i + source, one part of a cycle at a time.

    Parts are whole cycles for up to eight diodes, shorter for more, since the cost of a solve grows
    with the cube of the conducting samples.
    """

    def __init__(self, network: Network, samples: int, count: int) -> None:
        """``samples`` make a cycle, of which the first ``count`` are covered."""
        self.network = network
        self.step = 2.0 * np.pi / network.omega / samples
        self.parts = 1
        one_way, paired = network.diodes.one_way, network.diodes.paired
        busy = np.where(one_way, 1, np.where(paired, 64, BUSIER)).sum()
        while self.parts < busy / 8 and count % (2 * SHORTEST * self.parts) == 0:
            self.parts *= 2
        self.samples = count // self.parts
        stored, ports = network.incidence, network.diode_ports
        p, r, q = ports.shape[0], network.storage.size, self.parts
        matrix = network.ac + (stored * (1.5 / self.step * network.storage)) @ stored.T
        self._matrix = matrix
        columns = [ports.T, stored * (network.storage / (2.0 * self.step))]
        columns.append(np.column_stack([network.steady, network.sine, network.cosine]))
        solved = network.solved(matrix, np.column_stack(columns))
        self.entry, self.memory, given = np.split(solved, [p, p + r], axis=1)
        angle = network.omega * self.step * np.arange(1, count + 1)
        wave = np.stack([np.ones_like(angle), np.sin(angle), np.cos(angle)])
        self.source = (given @ wave).reshape(network.size, q, self.samples)
        # Columns of the recurrence: an ampere in each diode at the first step, each stored
        # quantity now, each one step before, and the sources of each part.
        z = np.concatenate([np.zeros((r, p)), np.eye(r), np.zeros((r, r + q))], axis=1)
        past = np.concatenate([np.zeros((r, p + r)), np.eye(r), np.zeros((r, q))], axis=1)
        keep, source = stored.T @ self.memory, np.tensordot(stored.T, self.source, 1)
        remembered = np.empty((self.samples, r, p + 2 * r + q))
        for k in range(self.samples):
            remembered[k] = 4.0 * z - past
            past, z = z, keep @ remembered[k]
            z[:, p + 2 * r :] += source[:, :, k]
            if k == 0:
                z[:, :p] -= stored.T @ self.entry
        response = self.memory @ remembered
        response[:, :, p + 2 * r :] += self.source.transpose(2, 0, 1)
        response[0, :, :p] -= self.entry
        self._pulse = np.fft.rfft(response[:, :, :p], 2 * self.samples, axis=0)
        self._state = np.ascontiguousarray(response[:, :, p:])
        self._feedback = Feedback(-ports @ response[:, :, :p], circular=False)
        usual = np.where(network.diodes.paired, network.diodes.start, -1.0)
        self._junction = [np.repeat(usual[:, None], self.samples, axis=1)] * q
        self._latest = network.diodes.start
        self._dark = np.ones(network.diodes.glow.size, dtype=bool)

    def first(self, held: Array) -> tuple[Array, Array]:
        """Unknowns (n, 1) and diode currents (p, 1) right after switch-on."""
        network = self.network
        stored = network.incidence
        weight = network.storage / FIRST_INSTANT
        matrix = network.ac + (stored * weight) @ stored.T
        given = network.steady + network.cosine + stored @ (weight * held)
        return self._instant(self._lit(self._dark), matrix, given, network.diodes.start)

    def advance(self, part: int, now: Array, before: Array) -> tuple[Array, Array]:
        """Unknowns (n, samples) and diode currents (p, samples) of the next part of a cycle."""
        network = self.network
        ports = network.diode_ports
        given = np.eye(self.parts)[part]
        free = (self._state @ np.concatenate([now, before, given])).T
        dark = np.repeat(self._dark[:, None], self.samples, axis=1)
        junction = self._junction[part]
        while True:
            diodes = self._lit(dark)
            flow = self._feedback.solve(diodes, ports @ free, junction, warm=True)
            if not flow.found:
                return self._march(part, now, before)
            junction = flow.volts
            struck = dark & diodes.strikes(junction)
            if not struck.any():
                break
            # What comes after the first to strike would not have come.
            at = int(np.argmax(struck.any(axis=0)))
            dark[struck[:, at], at:] = False
        self._dark = dark[:, -1] if dark.size else self._dark
        self._junction[part], self._latest = junction, junction[:, -1]
        spectrum = np.fft.rfft(flow.amperes, 2 * self.samples, axis=1)
        folded = np.einsum("kij,jk->ik", self._pulse, spectrum)
        wave = free + np.fft.irfft(folded, 2 * self.samples, axis=1)[:, : self.samples]
        return wave, flow.amperes

    def _lit(self, dark: Mask) -> Junctions:
        return self.network.diodes.darkened(dark) if dark.size else self.network.diodes

    def _march(self, part: int, now: Array, before: Array) -> tuple[Array, Array]:
        """The same step by step, for when it does not settle as a whole."""
        network = self.network
        stored, ports = network.incidence, network.diode_ports
        wave = np.empty((network.size, self.samples))
        current = np.empty((network.diodes.count, self.samples))
        # not from rest: a regulator that has just let go has a second answer, which is nowhere near
        volts = self._latest
        for k in range(self.samples):
            angle = network.omega * self.step * (part * self.samples + k + 1)
            given = network.steady + network.sine * np.sin(angle) + network.cosine * np.cos(angle)
            given = given + stored @ (network.storage / (2.0 * self.step) * (4.0 * now - before))
            while True:
                diodes = self._lit(self._dark)
                x, i = self._instant(diodes, self._matrix, given, volts)
                struck = self._dark & diodes.strikes(ports @ x)[:, 0]
                if not struck.any():
                    break
                self._dark = self._dark & ~struck
            wave[:, k], current[:, k], volts = x[:, 0], i[:, 0], (ports @ x)[:, 0]
            before, now = now, stored.T @ wave[:, k]
        self._junction[part], self._latest = ports @ wave, volts
        return wave, current

    def _instant(
        self, diodes: Junctions, matrix: Array, given: Array, volts: Array
    ) -> tuple[Array, Array]:
        """Unknowns (n, 1) and diode currents (p, 1) of one step, from junction ``volts`` (p,)."""
        network = self.network
        devices = Devices(network, diodes, network.diode_ports)
        x = solve(network, devices.equations(matrix, given), volts)
        return x[:, None], devices.law(devices.ports @ x)[0][:, None]
