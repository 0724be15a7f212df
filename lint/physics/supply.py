"""Mains-driven periodic steady state by partial harmonic balance.

Rectifiers are solved in the time domain over one cycle, behind a linear network known by its
response at each harmonic, and with them iron that swings past its knee; tubes, and diodes,
transistors and regulators that see steady voltage, are solved at their mean voltages and
linearised there for ripple.  A diode, transistor or regulator that turns out to swing too far for
that joins the rectifiers.  How the two solutions feed each other stands in
:mod:`coldcheck.lint.physics.settling`.
K. S. Kundert, J. K. White, A. Sangiovanni-Vincentelli, "Steady-State Methods for Simulating Analog
and Microwave Circuits", Kluwer 1990.
"""

from __future__ import annotations

import numpy as np

from coldcheck.lint.physics.carried import carried
from coldcheck.lint.physics.circuit import Circuit, NotSolved
from coldcheck.lint.physics.devices import BEND
from coldcheck.lint.physics.harmonics import tune
from coldcheck.lint.physics.junctions import Mask
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.periodic import PeriodicState, bent_diodes
from coldcheck.lint.physics.settling import settle

SEEN_THROUGH = 1e-6
"""Conductance in siemens put across every diode to see which of them the mains reaches."""
RECTIFIER_VOLTS = 1.0
"""Amplitude above which such a diode is solved over the cycle instead of linearised; our choice."""

NARROW, SLIGHT = 8, 1e-3
"""A rectifier that carries more than a hundredth of its peak in fewer samples than this, its peak
being above so many amperes, is solved again on twice the samples; our choice.  On 4 samples the
rms current of its winding is 1.4 % wrong, on 10 it is 0.4 %."""
FINEST = 512
"""Most samples that are taken for that; our choice."""


def periodic_state(
    circuit: Circuit,
    samples: int = 128,
    start: PeriodicState | None = None,
    finest: int = FINEST,
) -> PeriodicState:
    """The periodic steady state of a circuit driven at ``circuit.mains_hz``.

    ``samples`` per cycle at least, even; up to ``finest`` where pulses are narrow.  ``start``: a
    state to start from, of this circuit at another mains voltage or of one that has its diodes and
    most of its nodes.  Raises NotSolved, naming a node or element, when it does not settle,
    ValueError for an odd or tiny number of samples.
    """
    if samples < 8 or samples % 2:
        raise ValueError("samples must be even and at least 8")
    network = Network(circuit)
    if start is not None:
        start = carried(start, network)
    dark = np.ones(network.diodes.glow.size, dtype=bool)
    while True:
        if dark.size:
            network.diodes = network.diodes.darkened(dark)
        state = _periodic(network, samples, start)
        across = network.diode_ports @ state.solution
        struck = dark & network.diodes.strikes(across).any(axis=1)
        if not struck.any():
            break
        dark &= ~struck
        start = state
    while _narrow(state) and state.time.size < finest:
        try:
            state = _periodic(network, 2 * state.time.size, state)
        except NotSolved:
            break
    return state


def _narrow(state: PeriodicState) -> bool:
    """Whether a rectifier's pulse is but a few samples wide."""
    current = np.abs(state.junction_amperes[state.swinging & state.network.diodes.one_way])
    peak = current.max(axis=1, initial=0.0)
    wide = (current > 0.01 * peak[:, None]).sum(axis=1)
    return bool(np.any((wide < NARROW) & (peak > SLIGHT)))


def _periodic(network: Network, samples: int, start: PeriodicState | None) -> PeriodicState:
    """The periodic state with what linearises well linearised, the rest over the cycle.

    Where that finds none for the rest, the last that was found: it names what swings too far.
    """
    swinging = _swinging(network) if start is None else start.swinging
    paired, found = network.diodes.paired, None
    while True:
        try:
            state = settle(network, swinging, samples, start)
            more = bent_diodes(state)
        except NotSolved:
            if found is not None and np.any(swinging & paired & ~found.swinging):
                return found
            more = ~swinging & ~paired if np.any(~swinging & ~paired) else ~swinging
            if not np.any(more):
                if found is not None:
                    return found
                raise
            start = None
        else:
            if not np.any(more):
                return state
            start = found = state
        swinging = swinging | network.diodes.whole(more)


def _swinging(network: Network) -> Mask:
    """Which diodes see the mains while none conducts, and which iron is bent by it."""
    rows, diodes = network.diode_ports, network.diodes
    leaky = tune(network, rows.T @ rows * SEEN_THROUGH, np.zeros(network.size), 2)
    volts = np.abs(rows @ leaky.source[1])
    return np.asarray(
        diodes.one_way & (volts > RECTIFIER_VOLTS) | (volts > BEND * diodes.knees()[0])
    )
