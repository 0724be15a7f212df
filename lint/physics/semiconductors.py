"""Laws of transistors and three-terminal regulators: currents from voltages, with derivatives.

Every device has two ports.  Each function returns the currents of both, in amperes, flowing in at
a port's first electrode and out at its second, then the derivatives d1/d1, d1/d2, d2/d1, d2/d2 in
siemens; it works on whole arrays.  Polarity is not seen here: a pnp's ports are turned round.

J. J. Ebers, J. L. Moll, "Large-signal behavior of junction transistors", Proc. IRE 42, 1761, 1954.
H. Shichman, D. A. Hodges, "Modeling and simulation of insulated-gate field-effect transistor
switching circuits", IEEE J. Solid-State Circuits 3, 285, 1968.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from coldcheck.lint.physics.devices import (
    KNEE,
    ZENER_SATURATION,
    ZENER_SLOPE,
    Array,
    logistic,
    silicon_current,
    softplus,
)

TwoPort = tuple[Array, Array, Array, Array, Array, Array]

REVERSE_GAIN = 1.0
"""Current gain with collector and emitter exchanged, which data sheets do not give: the usual
default of circuit simulators, from memory.  It matters in saturation only."""

BODY_SATURATION, BODY_SLOPE = ZENER_SATURATION, ZENER_SLOPE
"""The body diode of a MOS transistor: an ordinary silicon junction, from memory."""

EDGE = 0.1
"""Over the last tenth of the drop-out voltage a regulator's pass element comes to give all it can;
our choice.  Data sheets give one drop-out voltage, at one current."""
ROUNDING = 0.01
"""Rounding of a regulator's corners, relative to its largest current; our choice."""
SMALLEST_REGULATOR_OHMS = 1e-3
"""Least output resistance of a regulator; our choice."""


def bipolar_currents(
    saturation: ArrayLike,
    slope: ArrayLike,
    gain: ArrayLike,
    base_emitter: ArrayLike,
    base_collector: ArrayLike,
) -> TwoPort:
    """Ports base to emitter and base to collector.

    Transport form: with F = saturation (exp(vbe / slope) - 1) and R the same of vbc, F - R crosses
    from collector to emitter, and the base takes F / gain + R / REVERSE_GAIN.  Both exponentials
    go on as their tangents like a silicon diode's.
    """
    gain = np.asarray(gain, dtype=float)
    forward, f = silicon_current(saturation, slope, base_emitter)
    reverse, r = silicon_current(saturation, slope, base_collector)
    share, back = 1.0 + 1.0 / gain, 1.0 + 1.0 / REVERSE_GAIN
    return share * forward - reverse, back * reverse - forward, share * f, -r, -f, back * r


def mosfet_currents(
    threshold: ArrayLike, steepness: ArrayLike, gate_source: ArrayLike, drain_source: ArrayLike
) -> TwoPort:
    """Ports gate to source, which draws nothing, and drain to source.

    steepness / 2 * (on^2 - off^2), where on is vgs - threshold and off the same of vgd, each zero
    when negative: the square law in all its regions, and alike with drain and source exchanged.
    The corner at the threshold is rounded over :data:`KNEE`.  The body's diode lies across it.
    """
    steepness = np.asarray(steepness, dtype=float)
    over = (np.asarray(gate_source, dtype=float) - threshold) / KNEE
    beyond = over - np.asarray(drain_source, dtype=float) / KNEE
    on, off = KNEE * softplus(over), KNEE * softplus(beyond)
    by_on, by_off = steepness * on * logistic(over), steepness * off * logistic(beyond)
    body, conductance = silicon_current(BODY_SATURATION, BODY_SLOPE, -np.asarray(drain_source))
    drain = 0.5 * steepness * (on * on - off * off) - body
    none = np.zeros_like(drain)
    return none, drain, none, none, by_on - by_off, by_off + conductance


def regulator_currents(
    volts: ArrayLike,
    ohms: ArrayLike,
    dropout: ArrayLike,
    most: ArrayLike,
    quiescent: ArrayLike,
    output: ArrayLike,
    headroom: ArrayLike,
) -> TwoPort:
    """Ports output to common and input to output.

    What it delivers is the least of (volts - output) / ohms, of what the pass element can give,
    most * (headroom / dropout - 1 + EDGE) / EDGE, and of ``most``, but never less than nothing; the
    corners are rounded.  The quiescent current sets in with the first ``dropout`` volts from input to
    common, as quiescent * tanh(2 volts / dropout).
    """
    most, dropout = np.asarray(most, dtype=float), np.asarray(dropout, dtype=float)
    output, headroom = np.asarray(output, dtype=float), np.asarray(headroom, dtype=float)
    quiescent = np.asarray(quiescent, dtype=float)
    ohms = np.maximum(ohms, SMALLEST_REGULATOR_OHMS)
    width = ROUNDING * most
    held = (volts - output) / ohms
    able = most / EDGE * (headroom / dropout - 1.0 + EDGE)
    x = (held - able) / width
    lesser, by_able = held - width * softplus(x), logistic(x)
    y = (lesser - most) / width
    limited, inner = lesser - width * softplus(y), logistic(-y)
    z = limited / width
    given, share = width * softplus(z), inner * logistic(z)
    by_output = -share * (1.0 - by_able) / ohms
    by_headroom = share * by_able * most / (EDGE * dropout)
    powered = np.tanh(2.0 * (output + headroom) / dropout)
    idle = quiescent * powered
    i = 2.0 * quiescent / dropout * (1.0 - powered * powered)
    return idle, given + idle, i, i, by_output + i, by_headroom + i
