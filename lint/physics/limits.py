"""How far a Newton step may move a device: limiting the device, not the step of them all."""

from __future__ import annotations

import numpy as np

from coldcheck.lint.physics.devices import Array

WIDENING = 0.3
"""Share of a port's voltage by which it may move besides its reach; our choice."""
HALVED, REGAINED = 0.5, 1.5
"""What becomes of a port's bound where it turned back, and where it did not; our choice.
So a step shrinks where a curve is a corner (M. Riedmiller, H. Braun, "A direct adaptive method for
faster backpropagation learning", IEEE Int. Conf. Neural Networks 1993; the idea from memory)."""


class Turns:
    """Bounds of ports that shrink where a port goes back and forth."""

    def __init__(self, reach: Array, at: Array) -> None:
        """``reach`` in volts, of any shape that goes with that of the voltages ``at``."""
        self._reach = reach
        self._share, self._last = np.ones_like(at), np.zeros_like(at)

    def limited(self, at: Array, step: Array) -> Array:
        """``step`` from the voltages ``at``, shortened where it is too long."""
        turned = step * self._last < 0.0
        grown = np.minimum(REGAINED * self._share, 1.0)
        self._share, self._last = np.where(turned, HALVED * self._share, grown), step
        bound = self._share * (self._reach + WIDENING * np.abs(at))
        return np.clip(step, -bound, bound)
