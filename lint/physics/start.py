"""Switching on from zero charge, tubes cold: peaks of voltage and inrush of current.

The circuit is stepped by the second-order backward difference formula, which damps what a diode
interrupts (C. W. Gear, "Numerical Initial Value Problems in Ordinary Differential Equations",
Prentice-Hall 1971), but a whole mains cycle at once: with the steps of a cycle eliminated, the
diodes see a causal response, and one nonlinear solve gives the cycle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coldcheck.lint.physics.circuit import Circuit, CurrentLoad, NotSolved, Pentode, Triode
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.ports import Feedback
from coldcheck.lint.physics.waves import Waves

FIRST_INSTANT = 1e-9
"""Seconds after switch-on at which the first current is taken: short against any circuit's time
constants, so capacitors are still empty and inductors carry nothing; our choice."""

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
        return _largest(self.across(name))

    def peak_node(self, node: str) -> float:
        """Voltage to ground of the largest size a node has seen."""
        return _largest(self.volts(node))

    def peak_amperes(self, name: str) -> float:
        """Current of the largest size: inrush of a coil, diode, source, fuse or capacitor."""
        return _largest(self.amperes(name))


def cold_start(circuit: Circuit, cycles: int = 50, samples: int = 128) -> Start:
    """Transient from zero charge over at most ``cycles`` mains cycles.

    Tubes and current loads draw nothing while cold and are left out; rectifiers conduct at once.
    Sources begin at time 0 with their phase: a source of phase pi / 2 is switched on at its crest.
    Ends early once nothing changes from cycle to cycle.  Raises NotSolved when it cannot go on.
    """
    drawing = (Triode, Pentode, CurrentLoad)
    cold = tuple(e for e in circuit.elements if not isinstance(e, drawing))
    network = Network(Circuit(cold, circuit.ground, circuit.mains_hz))
    stepper = _Stepper(network, samples)
    wave, current = stepper.first()
    waves, currents = [wave], [current]
    now = before = np.zeros(network.storage.size)
    settled, calm = False, 0
    for _ in range(cycles):
        began, largest = now, 0.0
        for part in range(stepper.parts):
            wave, current = stepper.advance(part, now, before)
            waves.append(wave)
            currents.append(current)
            before, now = (network.incidence.T @ wave[:, -2:]).T
            largest = max(largest, float(np.max(np.abs(now), initial=0.0)))
        calm = calm + 1 if np.all(np.abs(now - began) <= STILL * largest) else 0
        settled = calm >= 2
        if settled:
            break
    solution = np.concatenate(waves, axis=1)
    stored = network.incidence.T @ solution
    stored[:, 0] = 0.0
    past = np.concatenate([np.zeros((stored.shape[0], 1)), stored], axis=1)
    charging = np.zeros_like(stored)
    charging[:, 1:] = (3.0 * past[:, 2:] - 4.0 * past[:, 1:-1] + past[:, :-2]) / (
        2.0 * stepper.step
    )
    return Start(
        time=stepper.step * np.arange(solution.shape[1], dtype=float),
        network=network,
        solution=solution,
        charging=charging,
        junction_amperes=np.concatenate(currents, axis=1),
        settled=settled,
    )


class _Stepper:
    """Steps x = memory @ (4 z - z_before) - entry @ i + source, one part of a cycle at a time.

    Parts are whole cycles for one or two diodes, shorter for more, since the cost of a solve
    grows with the cube of the conducting samples.
    """

    def __init__(self, network: Network, samples: int) -> None:
        self.network = network
        self.step = 2.0 * np.pi / network.omega / samples
        self.parts = 1
        while self.parts < network.diodes.count / 2 and samples % (16 * self.parts) == 0:
            self.parts *= 2
        self.samples = samples // self.parts
        stored, ports = network.incidence, network.diode_ports
        p, r, q = ports.shape[0], network.storage.size, self.parts
        matrix = network.ac + (stored * (1.5 / self.step * network.storage)) @ stored.T
        columns = [ports.T, stored * (network.storage / (2.0 * self.step))]
        columns.append(np.column_stack([network.steady, network.sine, network.cosine]))
        solved = network.solved(matrix, np.column_stack(columns))
        self.entry, self.memory, given = np.split(solved, [p, p + r], axis=1)
        angle = network.omega * self.step * np.arange(1, samples + 1)
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
        self._junction = [np.full((p, self.samples), -1.0)] * q

    def first(self) -> tuple[Array, Array]:
        """Unknowns (n, 1) and diode currents (p, 1) right after switch-on."""
        network = self.network
        stored, ports = network.incidence, network.diode_ports
        matrix = network.ac + (stored * (network.storage / FIRST_INSTANT)) @ stored.T
        solved = network.solved(matrix, np.column_stack([ports.T, network.steady + network.cosine]))
        entry, free = solved[:, :-1], solved[:, -1:]
        current = self._instant(ports @ entry, ports @ free)
        return free - entry @ current, current

    def advance(self, part: int, now: Array, before: Array) -> tuple[Array, Array]:
        """Unknowns (n, samples) and diode currents (p, samples) of the next part of a cycle."""
        network = self.network
        ports, diodes = network.diode_ports, network.diodes
        given = np.eye(self.parts)[part]
        free = (self._state @ np.concatenate([now, before, given])).T
        guess = self._junction[part]
        found, junction, current = self._feedback.solve(diodes, ports @ free, guess, warm=True)
        if not found:
            return self._march(part, now, before)
        self._junction[part] = junction
        spectrum = np.fft.rfft(current, 2 * self.samples, axis=1)
        folded = np.einsum("kij,jk->ik", self._pulse, spectrum)
        return free + np.fft.irfft(folded, 2 * self.samples, axis=1)[:, : self.samples], current

    def _march(self, part: int, now: Array, before: Array) -> tuple[Array, Array]:
        """The same step by step, for when it does not settle as a whole."""
        network = self.network
        ports = network.diode_ports
        wave = np.empty((network.size, self.samples))
        current = np.empty((network.diodes.count, self.samples))
        for k in range(self.samples):
            free = self.memory @ (4.0 * now - before) + self.source[:, part, k]
            current[:, k : k + 1] = self._instant(ports @ self.entry, ports @ free[:, None])
            wave[:, k] = free - self.entry @ current[:, k]
            before, now = now, network.incidence.T @ wave[:, k]
        self._junction[part] = ports @ wave
        return wave, current

    def _instant(self, impedance: Array, opened: Array) -> Array:
        """Diode currents (p, 1) behind a plain impedance matrix (p, p)."""
        diodes = self.network.diodes
        if not diodes.count:
            return np.zeros((0, 1))
        feedback = Feedback(impedance[None], circular=True)
        start = np.where(diodes.one_way[:, None], np.minimum(opened, 0.0), opened)
        found, junction, current = feedback.solve(diodes, opened, start, warm=False)
        if not found:
            miss = np.abs(junction - opened + impedance @ current)
            name = diodes.names[int(np.argmax(miss))]
            raise NotSolved(f"the first current of diode {name} was not found", elements=(name,))
        return current


def _largest(values: Array) -> float:
    return float(values[np.argmax(np.abs(values))])
