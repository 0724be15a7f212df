"""Mains-driven periodic steady state by partial harmonic balance.

Rectifiers are solved in the time domain over one cycle, behind a linear network known by its
response at each harmonic, and with them iron that swings past its knee; tubes, and diodes,
transistors and regulators that see steady voltage, are solved at their mean voltages and
linearised there for ripple.  A diode, transistor or regulator that turns out to swing too far for
that joins the rectifiers.  The two solutions feed each other: the rectifiers act
on the tubes as a current with a conductance, exact to first order, and the tubes on the rectifiers
by their linearisation, with what ripple and the curvature of their laws add in the mean.
K. S. Kundert, J. K. White, A. Sangiovanni-Vincentelli, "Steady-State Methods for Simulating Analog
and Microwave Circuits", Kluwer 1990.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import Circuit, NotSolved, Source
from coldcheck.lint.physics.dc import Devices, checked, newton, solve
from coldcheck.lint.physics.devices import BEND, Array
from coldcheck.lint.physics.harmonics import Complex, Tuned, rates_of, sampled, tune, waveforms
from coldcheck.lint.physics.junctions import Junctions, Mask
from coldcheck.lint.physics.march import marched
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.periodic import PeriodicState, bent_diodes
from coldcheck.lint.physics.ports import Feedback, Flow, coarse, refined

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

PASSES = 25
NEAR = 1e-2
"""Relative change of the tubes' mean voltages from which on all else follows them to first order,
and the passes end: what is left out goes with its square, and with how little rectifiers bend over
it.  On the amplifiers of the tests another pass moves nothing by more than 1e-6; our choice."""
FOLLOWED = 1e-4
"""Share of the largest current by which a rectifier may then miss its law; our choice."""
GUESSED = 1e-2
"""The last such step of a first guess; our choice."""
CURVED, SMALL = 1e-4, 1e-8
"""The same of what ripple adds to the tubes' mean currents, of those and in amperes; our choice."""
CURVING = 8
"""Passes after which that is left as it is: tubes that swing through their whole law, and will be
named for it, would else keep it moving; our choice."""


class Rectifiers(NamedTuple):
    """What is solved over the cycle: which ports that is, (all,), their ``volts`` and ``amperes``,
    (p, samples), and about how their mean currents follow their mean voltages, (p, p)."""

    swinging: Mask
    volts: Array
    amperes: Array
    siemens: Array | None


class Tangent(NamedTuple):
    """What is linearised: mean ``volts`` (m,) of the ports, their ``current`` (m,), the ``slopes``."""

    volts: Array
    current: Array
    slopes: Array


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
        start = _carried(start, network)
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


def _carried(start: PeriodicState, network: Network) -> PeriodicState | None:
    """A state of one circuit as a guess of another's; None where that has diodes of its own.

    Its waves grow as the mains does; their means are those of the other circuit fed by the same
    rectifiers, as :meth:`PeriodicState.averaged` has them.  A rectifier keeps its voltage where it
    conducts, whatever the means, and stays blocked elsewhere.
    """
    swings = dict(zip(start.network.diodes.names, start.swinging, strict=True))
    swings |= {second: swings[first] for second, first in start.network.shared.items()}
    if not swings.keys() >= set(network.diodes.names):
        return None
    known, waves = start.network.places(), np.zeros((network.size, start.time.size))
    for place, k in network.places().items():
        if place in known:
            waves[k] = start.solution[known[place]]
    swinging = np.array([swings[name] for name in network.diodes.names], dtype=bool)
    waves *= _grown(start.network, network)
    mean, kept = waves.mean(axis=1), _kept(start, network, swinging)
    rows = network.diode_ports[swinging]
    if kept is None:
        junction = rows @ waves
    else:
        waves += (_fed(start, network, swinging, kept, mean) - mean)[:, None]
        volts = start.junction_volts[kept] / _parted(start.network, network, swinging)[:, None]
        blocked = np.minimum(rows @ waves, 0.0)
        one_way = network.diodes.one_way[swinging][:, None]
        junction = np.where(one_way, np.where(volts > 0.0, volts, blocked), rows @ waves)
    return replace(
        start, network=network, solution=waves, swinging=swinging, junction_volts=junction
    )


def _kept(start: PeriodicState, network: Network, swinging: Mask) -> list[int] | None:
    """Where in ``start`` the ports are that swing, one after the other; None where a device has
    two, and where two diodes share one that did not."""
    names = network.diodes.subset(swinging).names
    if len({*names}) < len(names) or not network.twins.items() <= start.network.twins.items():
        return None
    before, shared = start.network.diodes.subset(start.swinging).names, start.network.shared
    return [before.index(shared.get(name, name)) for name in names]


def _parted(before: Network, after: Network, swinging: Mask) -> Array:
    """How many diodes shared the port of each that swings, for each that does now, (p,)."""
    names = after.diodes.subset(swinging).names
    both = {*before.twins, *before.shared} - after.twins.keys()
    return np.array([2.0 if name in both else 1.0 for name in names])


def _fed(
    start: PeriodicState, network: Network, swinging: Mask, kept: list[int], mean: Array
) -> Array:
    """The unknowns of a circuit in the mean, (n,), from a guess ``mean``, the rectifiers of
    ``start``, of which those ``kept`` are there, taken as dc sources."""
    _, siemens, amperes = start.roughly_averaged()
    rows, devices = network.diode_ports[swinging], Devices.steady(network, swinging)
    equations = devices.equations(
        network.dc + rows.T @ siemens[np.ix_(kept, kept)] @ rows,
        network.steady + rows.T @ (_grown(start.network, network) * amperes[kept]),
    )
    try:
        found, x = newton(network, equations, devices.ports @ mean, GUESSED)
    except NotSolved:
        found = False
    return x if found else mean


def _grown(before: Network, after: Network) -> float:
    """The mains of one network over that of another."""
    old, new = (
        sum(e.peak for e in network.circuit.elements if isinstance(e, Source))
        for network in (before, after)
    )
    return new / old if old else 1.0


def _periodic(network: Network, samples: int, start: PeriodicState | None) -> PeriodicState:
    """The periodic state with what linearises well linearised, the rest over the cycle.

    Where that finds none for the rest, the last that was found: it names what swings too far.
    """
    swinging = _swinging(network) if start is None else start.swinging
    paired, found = network.diodes.paired, None
    while True:
        try:
            state = _settle(network, swinging, samples, start)
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


def _settle(
    network: Network,
    swinging: Mask,
    samples: int,
    start: PeriodicState | None,
) -> PeriodicState:
    """The steady state, with the ``swinging`` diodes in the time domain, the rest linearised."""
    rows = network.diode_ports[swinging]
    diodes = network.diodes.subset(swinging)
    still = Devices.steady(network, swinging)
    volts, junction = still.start, None
    blind = start is None and still.count > 0
    curved, bending = np.zeros(still.count), True
    if start is not None:
        volts = still.ports @ start.solution.mean(axis=1)
        same = np.array_equal(start.swinging, swinging)
        junction = start.junction_volts if same else rows @ start.solution
    for count in range(PASSES):
        current, jacobian = _resting(still, volts) if blind else still.law(volts)
        tangent = Tangent(volts, current + curved, jacobian)
        taken = coarse(samples) if blind else samples
        tuned = _tuned(network, still, tangent, taken, rows)
        guess = None if junction is None else refined(junction, taken)
        last = None if start is None else start.solution
        feedback, flow = _over_the_cycle(network, rows, diodes, tuned, taken, guess, last)
        _, junction, amperes = flow
        solution = waveforms(tuned, amperes)
        if not still.count:
            checked(network, solution[0].real / taken)
            rectifiers = Rectifiers(swinging, junction, amperes, None)
            return _state(network, solution, feedback, rectifiers, still, tangent)
        moved = still.ports @ solution[0].real / taken - volts
        before = curved
        if bending:
            curved = still.curvature(_rippling(still, solution, taken))
            more = np.any(np.abs(curved - before) > CURVED * np.abs(current) + SMALL)
            bending = blind or bool(more and count < CURVING)
        follows = feedback.following(diodes.law(junction)[1])
        admittance = follows.mean(axis=1)
        given = admittance @ junction.mean(axis=1) - amperes.mean(axis=1)
        x = solve(
            network,
            still.equations(
                network.dc + rows.T @ admittance @ rows,
                network.steady + rows.T @ given - still.ports.T @ curved,
            ),
            still.start if blind else volts + moved,
        )
        onward = still.ports @ x
        apart = np.maximum(np.abs(moved), np.abs(onward - volts))
        if np.all(apart <= NEAR * (1.0 + np.abs(volts))) and not (blind or bending):
            # What is left is first order: the currents follow the means to where these are now.
            followed = amperes + follows @ (rows @ x - junction.mean(axis=1))
            current, jacobian = still.law(onward)
            tangent = Tangent(onward, current + curved, jacobian)
            solution = waveforms(_tuned(network, still, tangent, taken, rows), followed)
            solution[0] = taken * x  # where nothing but leakage ties a winding this knows better
            across = sampled(solution @ rows.T, taken)
            missed = np.abs(diodes.law(across)[0] - followed).max(initial=0.0)
            if missed <= FOLLOWED * np.abs(followed).max(initial=0.0) + SMALL:
                rectifiers = Rectifiers(swinging, across, followed, admittance)
                return _state(network, solution, feedback, rectifiers, still, tangent)
        volts, blind = onward, False
    worst = int(np.argmax(np.abs(still.ports.T @ moved)))
    node = network.node_of(worst)
    what = f"the supply and its load find no common state; node {node} keeps moving"
    raise NotSolved(what, (node,))


def _tuned(network: Network, still: Devices, tangent: Tangent, samples: int, rows: Array) -> Tuned:
    """The network with what is linearised in it, at each harmonic."""
    matrix = still.ports.T @ tangent.slopes @ still.ports
    source = still.ports.T @ (tangent.slopes @ tangent.volts - tangent.current)
    return tune(network, matrix, source, samples, rows)


def _rippling(still: Devices, solution: Complex, samples: int) -> Array:
    """Port voltages of what is linearised, from their first harmonics: the rest of it bends no law."""
    fewer = coarse(samples)
    rippling = solution[: fewer // 2 + 1] @ still.ports.T
    return sampled(rippling, fewer) * (fewer / samples)


def _resting(still: Devices, volts: Array) -> tuple[Array, Array]:
    """The tubes as resistors, the diodes open: currents and Jacobian for a first pass."""
    split = still.tubes.count
    current, jacobian = np.zeros(still.count), np.zeros((still.count, still.count))
    resting = still.tubes.resting(volts[:split])
    current[:split], jacobian[:split, :split] = resting
    return current, jacobian


def _over_the_cycle(
    network: Network,
    rows: Array,
    diodes: Junctions,
    tuned: Tuned,
    samples: int,
    guess: Array | None,
    last: Array | None,
) -> tuple[Feedback, Flow]:
    """What the network answers to its rectifiers, and what these do then.

    From a ``guess`` of their voltages, (p, samples); failing that from where stepping through the
    cycle leads that a circuit like it had ``last``, (n, any).  Raises NotSolved, naming one.
    """
    feedback = Feedback(np.fft.irfft(tuned.seen(rows), samples, axis=0), circular=True)
    opened = sampled(tuned.source @ rows.T, samples)
    begin = _guess(diodes, opened) if guess is None else guess
    flow = feedback.solve(diodes, opened, begin, warm=guess is not None)
    if not flow.found:
        begun = sampled(waveforms(tuned, flow.amperes), samples) if last is None else last
        marching = rows @ marched(network, begun, samples)
        flow = feedback.solve(diodes, opened, marching, warm=True)
    if not flow.found:
        miss = np.abs(flow.volts - opened + feedback.drop(flow.amperes)).max(axis=1)
        name = diodes.names[int(np.argmax(miss))]
        raise NotSolved(f"the current of rectifier {name} does not settle", elements=(name,))
    return feedback, flow


def _guess(diodes: Junctions, opened: Array) -> Array:
    """Junction voltages as if the capacitors behind were charged to nine tenths of the peak."""
    charged = opened - 0.9 * np.maximum(opened.max(axis=1, keepdims=True), 0.0)
    usual = np.where(diodes.paired[:, None], diodes.start[:, None], opened)
    return np.where(diodes.one_way[:, None], charged, usual)


def _state(
    network: Network,
    solution: Complex,
    feedback: Feedback,
    rectifiers: Rectifiers,
    still: Devices,
    tangent: Tangent,
) -> PeriodicState:
    """Turn harmonics into waveforms and collect them."""
    samples = feedback.samples
    rates = rates_of(network.omega, np.arange(solution.shape[0]))
    waves = sampled(solution, samples)
    charging = sampled(rates[:, None] * (solution @ network.incidence), samples)
    volts = tangent.volts
    steady = tangent.current[:, None] + tangent.slopes @ (still.ports @ waves - volts[:, None])
    split = network.tubes.count
    amperes = np.empty((network.diodes.count, samples))
    swinging = rectifiers.swinging
    amperes[swinging], amperes[~swinging] = rectifiers.amperes, steady[split:]
    cycle = 2.0 * np.pi / network.omega
    return PeriodicState(
        time=(cycle / samples) * np.arange(samples, dtype=float),
        network=network,
        solution=waves,
        charging=charging,
        junction_amperes=amperes,
        swinging=swinging,
        junction_volts=rectifiers.volts,
        still_volts=volts,
        tube_amperes=steady[:split],
        feedback=feedback,
        rough=rectifiers.siemens,
    )
