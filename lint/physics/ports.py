"""Junctions behind a linear network, over one mains cycle at once.

Sampled over the cycle, the voltages v of p diode junctions obey

    F(v) = v - open + K * f(v) = 0

where f are the diode currents, ``open`` the voltages with the diodes taken out, and K * is the
convolution with the network's response: circular in the periodic state, causal in a transient.

Transistors and regulators are two such ports each, saturating iron is one of flux; below, all of
them count as diodes.

Newton's method is used with four aids.  Its linear system covers only the samples that conduct,
a few dozen of several hundred.  Its step is taken in the waves of
:mod:`coldcheck.lint.physics.curves`.  What comes without a good guess is solved on fewer samples
first.  And where all that does not settle, a conductance across each diode is begun with and taken
away in steps.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics.curves import Stepping, Taking, change
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.junctions import Junctions, Places, Slopes

SHUNTS = (1e-3, 1e-12)
"""First and last extra conductance in siemens across a diode; our choice."""
SETTLED = 1e-5
"""Last change of the currents, relative to the largest, at which the iteration ends; our choice.
The change of the voltages, in the mean, may be three times that: between the pulses a winding
on a bridge hangs on leakage currents, and its voltage is as vague as they are."""
ROUGH = 1e-3
"""The same with an extra conductance across each diode."""
OBEYED = 1e-3
"""Share of the largest current by which one of a transistor or regulator may miss its law; ours."""
TURNING = 120
"""Most steps of Newton's method where transistors and regulators are limited; our choice."""
HALVINGS = 12
"""Most halvings of a damped step; our choice."""
FINE = 64
WHOLE = 256
"""Most currents, of all ports and samples, up to which K * is a product with the whole of K: below
that the Fourier transforms take longer; our choice."""
COARSER = 4
"""From ``FINE`` samples on, what has no good guess is first solved on every fourth; our choice."""


class Flow(NamedTuple):
    """Junction voltages and currents, (p, samples), and whether they were found."""

    found: bool
    volts: Array
    amperes: Array


class Feedback:
    """The response K of a network to its diode currents, and the solution of F(v) = 0.

    ``kernel`` (samples, p, p): volts at port i, so many samples after one ampere in port j.
    """

    def __init__(self, kernel: Array, circular: bool) -> None:
        self.kernel = kernel
        self.circular = circular
        self.samples, self.count, _ = kernel.shape
        self._length = self.samples if circular else 2 * self.samples
        self._spectrum = np.fft.rfft(kernel, self._length, axis=0)
        # Volts at port i from port j at a lag of -samples to samples, flat, for quick reading.
        earlier = kernel if circular else np.zeros_like(kernel)
        self._lags = np.concatenate([earlier, kernel]).transpose(1, 2, 0).ravel()
        self._whole = None
        if not circular and self.count * self.samples <= WHOLE:
            pairs = np.indices((self.count, self.samples)).reshape(2, -1)
            self._whole = self.block(pairs[0], pairs[1])
        self._prompt = np.diagonal(self._spectrum[-1].real if circular else kernel[0])

    def drop(self, current: Array) -> Array:
        """K * current, volts of shape (p, samples)."""
        if self._whole is not None:
            return (self._whole @ current.ravel()).reshape(current.shape)
        spectrum = np.fft.rfft(current, self._length, axis=1)
        folded = np.einsum("kij,jk->ik", self._spectrum, spectrum)
        return np.fft.irfft(folded, self._length, axis=1)[:, : self.samples]

    def block(self, port: Places, sample: Places, lags: Array | None = None) -> Array:
        """The part of K among the given (port, sample) pairs, shape (a, a).

        ``lags``: what to read instead of K, laid out as it is.
        """
        row = port * self.count * 2 * self.samples + self.samples + sample
        column = port * 2 * self.samples - sample
        read = self._lags if lags is None else lags
        return np.asarray(read.take(row[:, None] + column[None, :]))

    def solve(self, diodes: Junctions, opened: Array, start: Array, warm: bool) -> Flow:
        """Junction voltages and currents over the cycle.

        ``start`` (p, samples): a guess; ``warm`` when it is the solution of a similar problem.
        """
        if not self.count:
            return Flow(True, start, start)
        # A step that runs away ends as not found; it need not be heard of on the way.
        with np.errstate(over="ignore", invalid="ignore"):
            return self._solve(diodes, opened, start, warm)

    def _solve(self, diodes: Junctions, opened: Array, start: Array, warm: bool) -> Flow:
        paired = bool(np.any(diodes.paired))
        if not self.circular:
            return self._directly(diodes, opened, start)
        fewer = coarse(self.samples)
        if (paired or not warm) and fewer < self.samples:
            rough = self._coarsened(fewer).solve(
                diodes, opened[:, ::COARSER], start[:, ::COARSER], warm
            )
            if rough.found:
                start = refined(rough.volts, self.samples)
        flow = self._directly(diodes, opened, start)
        if flow.found or paired:
            return flow
        return self._by_continuation(diodes, opened, start)

    def _directly(self, diodes: Junctions, opened: Array, start: Array) -> Flow:
        """Newton's method undamped and then, where all are diodes or iron, damped."""
        flow, paired = Flow(False, start, start), bool(np.any(diodes.paired))
        for damped in (False,) if paired else (False, True):
            iterations = 60 if damped else 15
            if self.circular and paired:
                iterations = TURNING
            flow = self._iterate(diodes, opened, start, iterations, SETTLED, damped)
            if flow.found:
                break
        return flow

    def _by_continuation(self, diodes: Junctions, opened: Array, start: Array) -> Flow:
        """From the largest shunt to the least and none, each solution the guess for the next."""
        shunt, last = SHUNTS
        ratio, reached = 10.0, 0.0
        flow = Flow(False, start, start)
        for _ in range(60):
            trial = self._shunted(shunt, diodes, opened, flow.volts)
            if trial.found:
                flow, reached = trial, shunt
                if shunt <= last:
                    return self._iterate(diodes, opened, flow.volts, 20, SETTLED, False)
                ratio = min(ratio**1.5, 1e3)
            elif not reached:
                shunt *= 10.0
                continue
            else:
                ratio **= 0.5
            shunt = max(last, reached / ratio)
        return Flow(False, flow.volts, flow.amperes)

    def _coarsened(self, samples: int) -> Feedback:
        """The same network at fewer samples, that is without its high harmonics."""
        spectrum = self._spectrum[: samples // 2 + 1]
        return Feedback(np.fft.irfft(spectrum, samples, axis=0), circular=True)

    def _shunted(self, shunt: float, diodes: Junctions, opened: Array, start: Array) -> Flow:
        """Solve roughly with ``shunt`` siemens across each diode, the network taking them in."""
        inverse = np.linalg.inv(np.eye(self.count) + shunt * self._spectrum)
        spectrum = np.fft.rfft(opened, axis=1)
        opened = np.fft.irfft(np.einsum("kij,jk->ik", inverse, spectrum), self.samples, axis=1)
        kernel = np.fft.irfft(inverse @ self._spectrum, self.samples, axis=0)
        inner = Feedback(kernel, circular=True)
        return inner._iterate(diodes, opened, start, 20, ROUGH, False)

    def _iterate(
        self,
        diodes: Junctions,
        opened: Array,
        v: Array,
        iterations: int,
        settled: float,
        damped: bool,
    ) -> Flow:
        """Newton's method in wave steps; ``damped`` by the natural monotonicity test.

        That test shortens a step until the correction that would follow it is the smaller one,
        however F is scaled (P. Deuflhard, "Newton Methods for Nonlinear Problems", 2004, 3.3).
        The currents given back are those of the last linearisation: they fit the network exactly
        and the diodes to second order, while the converse would be multiplied by the leakage
        resistance of a winding that hangs on blocked diodes.
        """
        current, slopes = diodes.law(v)
        miss = v - opened + self.drop(current)
        stepping, turning = Stepping(diodes, self._prompt), bool(np.any(diodes.paired))
        share, taking = 1.0, None
        for _ in range(iterations):
            last, taking = taking, Taking(slopes)
            if last is None or not taking.covers_as(last):
                port, sample = taking.places
                block = self.block(port, sample)
            system = taking.system(block)
            pull = np.zeros_like(v)
            try:
                pulled = np.linalg.solve(system, miss[taking.places])
            except np.linalg.LinAlgError:
                return Flow(False, v, current)
            pull[taking.places] = taking.change(np.asarray(pulled, dtype=float))
            step = self.drop(pull) - miss
            pulse = settled * np.max(np.abs(current)) + 1e-15
            even = 3.0 * settled * (1.0 + np.linalg.norm(v))
            small = np.linalg.norm(step) <= even and np.all(np.abs(change(slopes, step)) <= pulse)
            if small and (not turning or _obeyed(diodes, v + step, current - pull)):
                return Flow(True, v + step, current - pull)
            before, stretch = (v, current, slopes), stepping.stretch(slopes)
            size = np.linalg.norm(stretch * step)
            step = stepping.limited(v, step)
            share = min(1.0, 4.0 * share)
            inverse = np.linalg.inv(system) if damped else system
            for _ in range(HALVINGS if damped else 1):
                v, current, slopes = stepping.go(*before, share * step)
                miss = v - opened + self.drop(current)
                if damped:
                    pull = np.zeros_like(v)
                    pull[taking.places] = taking.change(np.asarray(inverse @ miss[taking.places]))
                    after = np.linalg.norm(stretch * (self.drop(pull) - miss))
                    if after <= (1.0 - 0.25 * share) * size:
                        break
                    share *= 0.5
        return Flow(False, v, current)

    def following(self, slopes: Slopes) -> Array:
        """Change of the currents over the cycle with each mean voltage, (p, samples, p), in siemens.

        ``slopes`` are those of the diodes at the solution.  Everything but the mean follows the
        circuit, so the mean of this is the rectifier as a dc source's conductance.
        """
        taking = Taking(slopes)
        port, sample = taking.places
        moving = self._lags - np.repeat(self.kernel.mean(axis=0).ravel(), 2 * self.samples)
        follow = taking.system(self.block(port, sample, moving))
        member = (port[:, None] == np.arange(self.count)).astype(float)
        moved = np.linalg.solve(follow, member)
        follows = np.zeros((self.count, self.samples, self.count))
        follows[port, sample] = taking.change(moved)
        return follows


def _obeyed(diodes: Junctions, volts: Array, amperes: Array) -> bool:
    """Whether currents are those of the law.

    A regulator at its limit has no slope, so a step that is small among hundreds of volts may lead
    from there to where it gives nothing.
    """
    law = diodes.law(volts)[0]
    return bool(np.max(np.abs(law - amperes)) <= OBEYED * np.max(np.abs(law)) + 1e-9)


def coarse(samples: int) -> int:
    """Samples to a cycle on which a problem is tried first: ``samples`` where those are few."""
    return samples // COARSER if samples >= FINE and samples % (2 * COARSER) == 0 else samples


def refined(volts: Array, samples: int) -> Array:
    """One cycle (p, any) read between its samples by straight lines, (p, samples)."""
    if volts.shape[1] == samples:
        return volts
    closed = np.concatenate([volts, volts[:, :1]], axis=1)
    known = np.linspace(0.0, 1.0, closed.shape[1])
    wanted = np.arange(samples) / samples
    rows = [np.interp(wanted, known, row) for row in closed]
    return np.array(rows).reshape(len(rows), samples)  # none at all where nothing rectifies
