"""How the curves of junctions enter Newton's method over a cycle: as slopes, and as waves.

The wave of a sample is v + R i, R being about the impedance a junction sees there.  In it a
diode's curve is nearly two straight lines (wave variables: A. Fettweis, Proc. IEEE 74, 270, 1986).
"""

from __future__ import annotations

import numpy as np

from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.junctions import Junctions, Slopes
from coldcheck.lint.physics.limits import Turns

CONDUCTING = 1e-11
"""Slope in siemens above which a sample of a diode takes part in the linear solve; our choice."""
UNFOLDED = 0.03
"""Last step in volts with which a wave counts as unfolded: it only chooses where the next
linearisation is made; our choice."""
UNFOLDINGS = 40
"""Most steps to unfold a wave; our choice."""
LARGEST_OHMS = 1e4
"""Most that is taken as the impedance seen by a diode, in ohms; our choice."""


class Taking:
    """The samples whose currents follow their voltages, and how: what a linear solve covers.

    ``places``: their ports and samples, (a,) each.
    """

    def __init__(self, slopes: Slopes) -> None:
        following = slopes.own > CONDUCTING
        self._cross = slopes.row.size > 0
        if self._cross:
            mutual = np.abs(slopes.cross) > CONDUCTING
            following[slopes.row] |= mutual
            following[slopes.column] |= mutual
        self.places = np.nonzero(following)
        self._own = slopes.own[self.places]
        if self._cross:
            at = np.empty(following.shape, dtype=np.intp)
            at[self.places] = np.arange(self._own.size)
            pair, sample = np.nonzero(mutual)
            self._mutual = slopes.cross[pair, sample]
            self._row = at[slopes.row[pair], sample]
            self._column = at[slopes.column[pair], sample]

    def covers_as(self, other: Taking) -> bool:
        """Whether it is the same samples of the same ports."""
        pairs = zip(self.places, other.places, strict=True)
        return all(np.array_equal(mine, others) for mine, others in pairs)

    def system(self, block: Array) -> Array:
        """1 + block J, (a, a), with J the slopes."""
        system = block * self._own
        np.einsum("ii->i", system)[:] += 1.0
        if self._cross:
            system[:, self._column] += block[:, self._row] * self._mutual
        return system

    def change(self, volts: Array) -> Array:
        """J volts, (a, ...): the change of the currents there with a change of the voltages."""
        own = self._own if volts.ndim == 1 else self._own[:, None]
        current = own * volts
        if self._cross:
            mutual = self._mutual if volts.ndim == 1 else self._mutual[:, None]
            current[self._row] += mutual * volts[self._column]
        return np.asarray(current)


def change(slopes: Slopes, step: Array) -> Array:
    """The change of all currents, (p, samples), with that of their voltages."""
    current = slopes.own * step
    if slopes.row.size:
        current[slopes.row] += slopes.cross * step[slopes.column]
    return current


class Stepping:
    """Where Newton's method goes from a linear solution: each sample in its own way.

    A diode's wave v + R i moves as the solution says, R being about the impedance it sees: ``prompt``
    (p,) in ohms.  Transistors and regulators move by at most their reach, and where they go back
    and forth by shorter and shorter steps.
    """

    def __init__(self, diodes: Junctions, prompt: Array) -> None:
        self._diodes = diodes
        waves = np.clip(np.abs(prompt), 1.0, LARGEST_OHMS)
        self._paired = bool(np.any(diodes.paired))
        self._ohms = np.where(diodes.paired, 0.0, waves)[:, None]
        self._turns: Turns | None = None

    def stretch(self, slopes: Slopes) -> Array:
        """How much a port's wave changes with its voltage, (p, samples)."""
        return 1.0 + self._ohms * slopes.own

    def limited(self, v: Array, step: Array) -> Array:
        """The step with that of transistors and regulators limited."""
        if not self._paired:
            return step
        if self._turns is None:
            self._turns = Turns(self._diodes.reach[:, None], v)
        return np.where(self._diodes.paired[:, None], self._turns.limited(v, step), step)

    def go(
        self, v: Array, current: Array, slopes: Slopes, step: Array
    ) -> tuple[Array, Array, Slopes]:
        """The v whose wave has moved by ``step`` stretched, its currents and slopes."""
        target = v + self._ohms * current + self.stretch(slopes) * step
        for _ in range(UNFOLDINGS):
            onward = (target - v - self._ohms * current) / self.stretch(slopes)
            v = v + onward
            current, slopes = self._diodes.law(v)
            if np.max(np.abs(onward)) < UNFOLDED:
                break
        return v, current, slopes
