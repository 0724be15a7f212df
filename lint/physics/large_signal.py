"""Large signal: one cycle of the signal at mid-band, up to clipping and beyond.

At mid-band a coupling or bypass capacitor holds its voltage and a coil of iron its current; what is
smaller is not felt.  So the variation of everything is that of a resistive network with tubes in
it, and its mean that of the dc network, in which a capacitor passes no current and a coil stands
no voltage.  With i the currents of the device ports, v their voltages, and a generator's
A cos(theta),

    v = v0 - Z_dc mean(i) - Z_mid (i - mean(i)) + z A cos(theta)

at every theta: grid current charging a coupling capacitor, bias shifted by rectification and the
sag of the supply are all in it.  This is harmonic balance with two impedances only (Kundert, White,
Sangiovanni-Vincentelli 1990), solved for all samples at once by Newton's method, limited as that of
:mod:`coldcheck.lint.physics.dc`.  The rectifiers are the dc source their load sees in the mean.
Leakage inductance, stray capacitance and the saturation of iron are not in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import (
    Inductor,
    NotSolved,
    Pentode,
    Triode,
)
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.periodic import Averaged, PeriodicState
from coldcheck.lint.physics.stability import steady_slopes

POINTS = 33
"""Samples over half a cycle, both ends among them: harmonics up to the sixteenth; our choice."""
HERTZ = 1000.0
"""Frequency in hertz that gives the samples their time; nothing else depends on it."""

LEAST_FARADS = 1e-9
"""A capacitor from here on holds its voltage, a smaller one is open: 160 kohm at 1 kHz; ours."""
LEAST_HENRIES = 0.1
"""A choke from here on holds its current, a smaller one is a wire: 630 ohm at 1 kHz; our choice.
A transformer always does."""
HELD_OHMS = 0.01
"""Resistance of a capacitor that holds its voltage, so that two across each other agree."""
HELD_COIL_OHMS = 1e9
"""Impedance of a coil that holds its current, so that two in a row agree."""
GENERATOR_OHMS = 1.0
"""Least resistance of a generator, in ohms; our choice."""

ITERATIONS = 40
SETTLED = 1e-4
"""Last Newton step of every port, relative to its voltage, at which the iteration ends; the error
left is about the square of it; our choice."""
STEPS = 12
"""Most steps in which an amplitude is approached that is not found at once; our choice."""


TRIODE = ("mu", "ex", "kg1", "kp", "kvb")


class Generator(NamedTuple):
    """A signal source: its voltage, behind ``ohms``, drives node ``a`` against ``b``; passes dc."""

    a: str
    b: str
    ohms: float


Output = tuple[str, str]
"""The two nodes between which an output is taken."""


HARMONICS = 5
"""Highest harmonic that distortion is told of; common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Drive(PeriodicState):
    """One cycle of the signal, from its positive crest; read as a cycle of the mains is.

    Rectifiers and mains windings carry their mean only: for their peaks the supply is to be solved
    with the mean currents of this as its load.
    """

    amplitude: float
    """Peak of every generator, in volts."""
    band: MidBand
    """What it was found in: the place to start from for another amplitude."""

    def averaged(self) -> Averaged:
        return self.band.rectifiers

    def supply_watts(self) -> float:
        """Mean power that the rectifiers give."""
        volts = self.band.rectifiers.rows @ self.solution
        return -float(np.mean(np.sum(volts * self.junction_amperes[self.swinging], axis=0)))

    def grid_watts(self, name: str) -> float:
        """Mean heat of a tube's grid."""
        element = self.network.elements[name]
        if not isinstance(element, Triode | Pentode):
            raise KeyError(name)
        volts = self.volts(element.grid) - self.volts(element.cathode)
        return float(np.mean(volts * self.grid_amperes(name)))

    def harmonics(self, output: Output) -> Array:
        """Peak volts of the fundamental and of harmonics two to five at an output, (5,).

        Each with its sign: of a cosine, the generator's being positive.
        """
        wave = between(self.network, self.solution, output)
        spectrum = np.fft.rfft(wave).real / (0.5 * wave.size)
        return np.asarray(spectrum[1 : HARMONICS + 1])

    def distortion(self, output: Output) -> float:
        """Of harmonics two to five, rms, relative to the fundamental; infinite without one."""
        first, *others = self.harmonics(output)
        return float(np.sqrt(np.sum(np.square(others))) / abs(first)) if first else np.inf

    def slopes(self, output: Output) -> Array:
        """d output / d generator between the samples of half the cycle, relative to its mean.

        1 everywhere: free of distortion; 0: flat; (points - 1,), from the positive crest on.
        """
        points = self.time.size // 2 + 1
        wave = between(self.network, self.solution[:, :points], output)
        given = np.cos(np.linspace(0.0, np.pi, points))
        swing = wave[0] - wave[-1]
        if swing == 0.0:  # what comes out has twice the frequency, or is rounding
            return np.zeros(points - 1)
        return np.asarray(2.0 * np.diff(wave) / np.diff(given) / swing)


class MidBand:
    """An amplifier about a steady state, as its signal sees it, reduced to its device ports.

    ``steady`` gives the operating point; every generator has the same voltage, and 0 V of it is
    the steady state but for what dc the generators pass.  ``supply``, a state of the same circuit
    under another load, gives the rectifiers where ``steady`` is not to.
    """

    def __init__(
        self,
        steady: PeriodicState,
        generators: Sequence[Generator],
        supply: PeriodicState | None = None,
        points: int = POINTS,
    ) -> None:
        network = steady.network
        self.steady, self.network = steady, network
        self.supply = steady if supply is None else supply
        rows, (_, siemens, amperes) = network.diode_ports[steady.swinging], self.supply.averaged()
        self.rectifiers = Averaged(rows, siemens, amperes)
        self.devices, slope = steady_slopes(steady)
        self._wave = np.cos(np.linspace(0.0, np.pi, points))
        self._weight = np.full(points, 1.0 / (points - 1))
        self._weight[[0, -1]] *= 0.5

        matrix, entry = self.rectifiers.into(network.dc), np.zeros(network.size)
        for generator in generators:
            _stamp(network, matrix, entry, generator)
        ports = self.devices.ports
        steady_columns = np.column_stack([ports.T, network.steady + rows.T @ amperes])
        self._dc = network.solved(matrix, steady_columns)
        self._holding = _holding(network)
        held = network.incidence * self._holding
        middle = network.solved(
            matrix + held @ network.incidence.T, np.column_stack([ports.T, entry])
        )
        self._mid, self._entry = middle[:, :-1], middle[:, -1]
        self._z_dc, self._z_mid = ports @ self._dc[:, :-1], ports @ self._mid
        self._opened, self._z_entry = ports @ self._dc[:, -1], ports @ self._entry
        loop = np.eye(self.devices.count) + self._z_mid @ slope
        self._ports_gain = network.solved(loop, self._z_entry)
        self._gain = self._entry - self._mid @ (slope @ self._ports_gain)

    def gain(self, output: Output) -> float:
        """Small-signal gain from the generators to an output, with its sign."""
        return float(between(self.network, self._gain[:, None], output)[0])

    def first_grid(self) -> float:
        """Amplitude in volts at which, by small-signal gain, the first grid reaches its cathode."""
        tubes = self.network.tubes
        grids = list(tubes.grid_port.values())
        moved = np.abs(self._ports_gain[grids])
        room = np.maximum(-self.steady.still_volts[grids], 0.5)
        felt = moved > 0.0
        return float(np.min(room[felt] / moved[felt], initial=np.inf))

    def strayed(self, drive: Drive) -> float:
        """How far the mean volts of the rectifiers are from where their currents were taken.

        Relative to the largest of them.
        """
        about = self.supply.junction_volts.mean(axis=1)
        moved = self.rectifiers.rows @ drive.solution.mean(axis=1) - about
        return float(np.max(np.abs(moved), initial=0.0) / np.max(np.abs(about), initial=1.0))

    def drive(self, amplitude: float, near: Drive | None = None) -> Drive:
        """The cycle at an amplitude; ``near``, one at another amplitude, to start from.

        Raises NotSolved when no periodic waveform is found.
        """
        done, volts = 0.0, np.repeat(self.steady.still_volts[:, None], self._wave.size, axis=1)
        if near is not None:
            done = near.amplitude
            volts = self.devices.ports @ near.solution[:, : self._wave.size]
        step = amplitude - done
        for _ in range(STEPS):
            target = done + step
            guess = self._guess(volts, done, target)
            found, trial = self._newton(guess, target)
            if found:
                done, volts = target, trial
                if abs(amplitude - done) <= 1e-9 * amplitude:
                    return self._made(amplitude, volts)
                step = amplitude - done if abs(1.5 * step) > abs(amplitude - done) else 1.5 * step
            else:
                step *= 0.4
        raise NotSolved(f"driven with {amplitude:.3g} V peak, the amplifier finds no steady wave")

    def _guess(self, volts: Array, done: float, target: float) -> Array:
        """A wave for another amplitude: the same volts at the same instantaneous input, and past its
        crests those of the crests."""
        if done <= 0.0:
            return volts + self._ports_gain[:, None] * (target * self._wave)
        known, wanted = done * self._wave[::-1], target * self._wave
        return np.stack([np.interp(wanted, known, row[::-1]) for row in volts])

    def _newton(self, volts: Array, amplitude: float) -> tuple[bool, Array]:
        """Port voltages (m, points) from a guess, and whether they settled.

        The samples are coupled by their mean only, so each step is one small system a sample
        and one for the change y of the mean currents.
        """
        count, weight = self.devices.count, self._weight
        lag = self._z_dc - self._z_mid
        free = self._opened[:, None] + self._z_entry[:, None] * (amplitude * self._wave)
        reach = self.devices.reach[:, None]
        columns = np.empty((self._wave.size, count, count + 1))
        columns[:, :, 1:] = lag
        share, before = np.ones_like(volts), np.zeros_like(volts)
        for _ in range(ITERATIONS):
            current, slope = self.devices.laws(volts)
            drop = self._z_mid @ current + (lag @ (current @ weight))[:, None]
            columns[:, :, 0] = (volts - free + drop).T
            try:
                solved = np.linalg.solve(np.eye(count) + self._z_mid @ slope, columns)
                pulled = np.tensordot(weight, slope @ solved, 1)
                y = np.linalg.solve(np.eye(count) + pulled[:, 1:], pulled[:, 0])
            except np.linalg.LinAlgError:
                return False, volts
            step = (solved[:, :, 1:] @ y - solved[:, :, 0]).T
            if np.all(np.abs(step) <= SETTLED * (1.0 + np.abs(volts))):
                return True, volts + step
            # Two states taken in turn are left by shorter steps.
            share = np.where(step * before < 0.0, 0.5 * share, np.minimum(1.0, 2.0 * share))
            bound = share * (reach + 0.3 * np.abs(volts))
            volts, before = volts + np.clip(step, -bound, bound), step
        return False, volts

    def _made(self, amplitude: float, volts: Array) -> Drive:
        """Every voltage and current over the whole cycle, the second half mirroring the first."""
        network, steady = self.network, self.steady
        current = self.devices.laws(volts)[0]
        mean = current @ self._weight
        moving = self._entry[:, None] * (amplitude * self._wave) - self._mid @ (
            current - mean[:, None]
        )
        still = self._dc[:, -1] - self._dc[:, :-1] @ mean
        solution = _unfolded(still[:, None] + moving)
        stored = network.incidence.T @ _unfolded(moving)
        rows, siemens, given = self.rectifiers
        junction = np.empty((network.diodes.count, solution.shape[1]))
        junction[steady.swinging] = siemens @ (rows @ solution) - given[:, None]
        split = network.tubes.count
        junction[~steady.swinging] = _unfolded(current[split:])
        samples = solution.shape[1]
        values: dict[str, Any] = {f.name: getattr(steady, f.name) for f in fields(PeriodicState)}
        values |= {
            "time": np.arange(samples) / (samples * HERTZ),
            "solution": solution,
            "charging": (self._holding / network.storage)[:, None] * stored,
            "junction_amperes": junction,
            "still_volts": volts @ self._weight,
            "tube_amperes": _unfolded(current[:split]),
        }
        return Drive(**values, amplitude=amplitude, band=self)


def between(network: Network, x: Array, output: Output) -> Array:
    return np.asarray(network.volts(x, output[0]) - network.volts(x, output[1]))


def _unfolded(half: Array) -> Array:
    """A whole cycle (n, 2 points - 2) of a wave that is even about its crest."""
    return np.concatenate([half, half[:, -2:0:-1]], axis=1)


def _stamp(network: Network, matrix: Array, entry: Array, generator: Generator) -> None:
    """Put a generator of 1 V on its nodes, in place."""
    siemens = 1.0 / max(generator.ohms, GENERATOR_OHMS)
    row = network.rows([(generator.a, generator.b)])[0]
    matrix += siemens * np.outer(row, row)
    entry += siemens * row


def _holding(network: Network) -> Array:
    """What each reactive element is at mid-band, (r,): siemens, or minus the ohms of a coil."""
    storage, elements = network.storage, network.circuit.elements
    small = [
        network.branch[e.name] - 1
        for e in elements
        if isinstance(e, Inductor) and e.henries < LEAST_HENRIES
    ]
    wire = np.any(network.incidence[small] != 0.0, axis=0)
    ohms = np.where(wire, 0.0, -HELD_COIL_OHMS)
    return np.where(storage < 0.0, ohms, np.where(storage < LEAST_FARADS, 0.0, 1.0 / HELD_OHMS))
