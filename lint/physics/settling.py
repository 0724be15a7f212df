"""The rectifiers over a cycle and everything else in the mean, each given what the other does.

Passes go from the one to the other.  The rectifiers act on the rest as a current with a
conductance, exact to first order; the rest acts on the rectifiers by its linearisation, with what
ripple and the curvature of its laws add in the mean.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import NotSolved
from coldcheck.lint.physics.dc import Devices, checked, solve
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.harmonics import Complex, Tuned, rates_of, sampled, tune, waveforms
from coldcheck.lint.physics.junctions import Junctions, Mask
from coldcheck.lint.physics.march import marched
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.periodic import Averaged, PeriodicState
from coldcheck.lint.physics.ports import Feedback, coarse, refined

PASSES = 25
"""Most passes; our choice."""
NEAR = 1e-2
"""Relative change of the mean voltages of what is linearised from which on all else follows them to
first order, and the passes end: what is left out goes with its square, and with how little
rectifiers bend over it.  On the amplifiers of the tests another pass moves nothing by more than
1e-6; our choice."""
FOLLOWED = 1e-4
"""Share of the largest current by which a rectifier may then miss its law; our choice."""
CURVED, SMALL = 1e-4, 1e-8
"""Change of what ripple adds to mean currents, relative to these and in amperes, that counts as
none; our choice."""
CURVING = 8
"""Passes after which that is left as it is: tubes that swing through their whole law, and will be
named for it, would else keep it moving; our choice."""


class Tangent(NamedTuple):
    """What is linearised: mean ``volts`` (m,) of the ports, their ``current`` (m,), the ``slopes``."""

    volts: Array
    current: Array
    slopes: Array


class Rectified(NamedTuple):
    """What is solved over the cycle: ``volts`` and ``amperes``, (p, samples), the network's answer
    to these, and about how their means follow, (p, p) siemens, where that is known."""

    volts: Array
    amperes: Array
    feedback: Feedback
    siemens: Array | None


def settle(
    network: Network, swinging: Mask, samples: int, start: PeriodicState | None
) -> PeriodicState:
    """The steady state, with the ``swinging`` diodes in the time domain, the rest linearised.

    ``start``: a state of the same network to start from.  Raises NotSolved, naming a node or
    element, when it does not settle.
    """
    passing = _Passes(network, swinging)
    still, guess, last = passing.still, None, None
    volts, blind = still.start, start is None and still.count > 0
    curved, bending = np.zeros(still.count), True
    if start is not None:
        volts, last = still.ports @ start.solution.mean(axis=1), start.solution
        same = np.array_equal(start.swinging, swinging)
        guess = start.junction_volts if same else passing.rows @ last
    for count in range(PASSES):
        current, slopes = _resting(still, volts) if blind else still.law(volts)
        tangent = Tangent(volts, current + curved, slopes)
        taken = coarse(samples) if blind else samples
        tuned = passing.tuned(tangent, taken)
        rectified = passing.over_the_cycle(tuned, taken, guess, last)
        guess, solution = rectified.volts, waveforms(tuned, rectified.amperes)
        if not still.count:
            checked(network, solution[0].real / taken)
            return passing.state(solution, tangent, rectified)
        moved = still.ports @ solution[0].real / taken - volts
        if bending:
            before, curved = curved, still.curvature(_rippling(still, solution, taken))
            more = np.any(np.abs(curved - before) > CURVED * np.abs(current) + SMALL)
            bending = blind or bool(more and count < CURVING)
        follows = rectified.feedback.following(passing.diodes.law(rectified.volts)[1])
        x = passing.means(rectified, follows, curved, still.start if blind else volts + moved)
        onward = still.ports @ x
        apart = np.maximum(np.abs(moved), np.abs(onward - volts))
        if np.all(apart <= NEAR * (1.0 + np.abs(volts))) and not (blind or bending):
            state = passing.followed(x, curved, rectified, follows)
            if state is not None:
                return state
        volts, blind = onward, False
    node = network.node_of(int(np.argmax(np.abs(still.ports.T @ moved))))
    what = f"the supply and its load find no common state; node {node} keeps moving"
    raise NotSolved(what, (node,))


class _Passes:
    """What a pass is made of, for one network and the diodes of it that swing."""

    def __init__(self, network: Network, swinging: Mask) -> None:
        self.network, self.swinging = network, swinging
        self.rows = network.diode_ports[swinging]
        self.diodes = network.diodes.subset(swinging)
        self.still = Devices.steady(network, swinging)

    def tuned(self, tangent: Tangent, samples: int) -> Tuned:
        """The network with what is linearised in it, at each harmonic."""
        ports = self.still.ports
        source = ports.T @ (tangent.slopes @ tangent.volts - tangent.current)
        return tune(self.network, ports.T @ tangent.slopes @ ports, source, samples, self.rows)

    def over_the_cycle(
        self, tuned: Tuned, samples: int, guess: Array | None, last: Array | None
    ) -> Rectified:
        """The rectifiers behind that network.

        From a ``guess`` of their voltages, (p, any); failing that from where stepping through the
        cycle leads that a circuit like it had ``last``, (n, any).  Raises NotSolved, naming one.
        """
        rows, diodes = self.rows, self.diodes
        feedback = Feedback(np.fft.irfft(tuned.seen(rows), samples, axis=0), circular=True)
        opened = sampled(tuned.source @ rows.T, samples)
        begin = _guess(diodes, opened) if guess is None else refined(guess, samples)
        flow = feedback.solve(diodes, opened, begin, warm=guess is not None)
        if not flow.found:
            begun = sampled(waveforms(tuned, flow.amperes), samples) if last is None else last
            marching = rows @ marched(self.network, begun, samples)
            flow = feedback.solve(diodes, opened, marching, warm=True)
        if not flow.found:
            miss = np.abs(flow.volts - opened + feedback.drop(flow.amperes)).max(axis=1)
            name = diodes.names[int(np.argmax(miss))]
            what = f"the current of rectifier {name} does not settle"
            raise NotSolved(what, elements=(name,))
        return Rectified(flow.volts, flow.amperes, feedback, None)

    def means(self, rectified: Rectified, follows: Array, curved: Array, begin: Array) -> Array:
        """The mean of every unknown, (n,), the rectifiers taken as a dc source.

        ``follows`` (p, samples, p): as :meth:`Feedback.following`; ``curved`` (m,): what ripple adds
        to the currents of the rest, whose voltages are near ``begin``.
        """
        network, rows, still = self.network, self.rows, self.still
        siemens = follows.mean(axis=1)
        fed = Averaged.about(rows, siemens, rectified.volts, rectified.amperes)
        source = network.steady + rows.T @ fed.amperes - still.ports.T @ curved
        return solve(network, still.equations(fed.into(network.dc), source), begin)

    def followed(
        self, x: Array, curved: Array, rectified: Rectified, follows: Array
    ) -> PeriodicState | None:
        """The state with the means ``x`` (n,), the rectifiers' currents following them to first
        order; None where these would not be those of their law."""
        onward, samples = self.still.ports @ x, rectified.feedback.samples
        current, slopes = self.still.law(onward)
        tangent = Tangent(onward, current + curved, slopes)
        moved = self.rows @ x - rectified.volts.mean(axis=1)
        amperes = rectified.amperes + follows @ moved
        solution = waveforms(self.tuned(tangent, samples), amperes)
        solution[0] = samples * x  # where nothing but leakage ties a winding this knows better
        volts = sampled(solution @ self.rows.T, samples)
        missed = np.abs(self.diodes.law(volts)[0] - amperes).max(initial=0.0)
        if missed > FOLLOWED * np.abs(amperes).max(initial=0.0) + SMALL:
            return None
        rectified = rectified._replace(volts=volts, amperes=amperes, siemens=follows.mean(axis=1))
        return self.state(solution, tangent, rectified)

    def state(self, solution: Complex, tangent: Tangent, rectified: Rectified) -> PeriodicState:
        """Turn harmonics into waveforms and collect them."""
        network, samples = self.network, rectified.feedback.samples
        rates = rates_of(network.omega, np.arange(solution.shape[0]))
        waves = sampled(solution, samples)
        charging = sampled(rates[:, None] * (solution @ network.incidence), samples)
        moved = self.still.ports @ waves - tangent.volts[:, None]
        steady = tangent.current[:, None] + tangent.slopes @ moved
        split = network.tubes.count
        amperes = np.empty((network.diodes.count, samples))
        amperes[self.swinging], amperes[~self.swinging] = rectified.amperes, steady[split:]
        cycle = 2.0 * np.pi / network.omega
        return PeriodicState(
            time=(cycle / samples) * np.arange(samples, dtype=float),
            network=network,
            solution=waves,
            charging=charging,
            junction_amperes=amperes,
            swinging=self.swinging,
            junction_volts=rectified.volts,
            still_volts=tangent.volts,
            tube_amperes=steady[:split],
            feedback=rectified.feedback,
            rough=rectified.siemens,
        )


def _resting(still: Devices, volts: Array) -> tuple[Array, Array]:
    """The tubes as resistors, the diodes open: currents and Jacobian for a first pass."""
    split = still.tubes.count
    current, jacobian = np.zeros(still.count), np.zeros((still.count, still.count))
    resting = still.tubes.resting(volts[:split])
    current[:split], jacobian[:split, :split] = resting
    return current, jacobian


def _rippling(still: Devices, solution: Complex, samples: int) -> Array:
    """Port voltages of what is linearised, from their first harmonics: the rest of it bends no law."""
    fewer = coarse(samples)
    rippling = solution[: fewer // 2 + 1] @ still.ports.T
    return sampled(rippling, fewer) * (fewer / samples)


def _guess(diodes: Junctions, opened: Array) -> Array:
    """Junction voltages as if the capacitors behind were charged to nine tenths of the peak."""
    charged = opened - 0.9 * np.maximum(opened.max(axis=1, keepdims=True), 0.0)
    usual = np.where(diodes.paired[:, None], diodes.start[:, None], opened)
    return np.where(diodes.one_way[:, None], charged, usual)
