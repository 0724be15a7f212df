"""Stepping a whole circuit through mains cycles, tubes and all, for a guess at its steady state.

Each step is an operating point, found by the method of :mod:`coldcheck.lint.physics.dc`, which does
not fail where Newton's method over a whole cycle may: a supply whose regulator drops out, a
winding that hangs on blocked diodes.  It is slow, and so it is the last resort.
"""

from __future__ import annotations

import numpy as np

from coldcheck.lint.physics.dc import Devices, solve
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.matrices import Network

CYCLES = 6
"""Mains cycles that are stepped through: what rectifiers do has settled by then, what slow filters
do has not, and need not for a guess; our choice."""
FARTHEST = 1e4
"""Most volts or amperes that anything begins with; our choice."""


def marched(network: Network, begin: Array, samples: int) -> Array:
    """The unknowns of the last cycle, (n, ``samples``), from those of a cycle ``begin`` (n, any).

    Second-order backward differences, as :mod:`coldcheck.lint.physics.start` steps.  Raises
    NotSolved when a step finds no operating point.
    """
    stored = network.incidence
    step = 2.0 * np.pi / network.omega / samples
    weight = network.storage / (2.0 * step)
    matrix = network.ac + (stored * (3.0 * weight)) @ stored.T
    devices = Devices(network, network.diodes, network.diode_ports)
    before, x = np.clip(np.nan_to_num(begin[:, -2:]), -FARTHEST, FARTHEST).T
    past, now, volts = stored.T @ before, stored.T @ x, devices.ports @ x
    wave = np.empty((network.size, samples))
    angles = 2.0 * np.pi * np.arange(samples) / samples
    for k, angle in [*enumerate(angles)] * CYCLES:
        given = network.steady + network.sine * np.sin(angle) + network.cosine * np.cos(angle)
        given = given + stored @ (weight * (4.0 * now - past))
        wave[:, k] = x = solve(network, devices.equations(matrix, given), volts)
        past, now, volts = now, stored.T @ x, devices.ports @ x
    return wave
