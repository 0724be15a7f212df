"""An amplifier driven, its supply sagging under it, and the amplitude at which it clips."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import CurrentLoad, Element, NotSolved, Pentode, Triode
from coldcheck.lint.physics.large_signal import Drive, Generator, MidBand, Output
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.supply import periodic_state

STRAIGHT = 0.02
"""A change of the rectifiers' mean volts, relative, over which they are a straight line; a bridge
into a capacitor then errs by 0.15 % of them, as it goes by the square; our choice."""
PASSES = 6

FLAT = 0.2
"""An output clips where its slope against the input falls to this share of its mean slope; our
choice.  With pentodes it is about where the first grid reaches its cathode, with triodes beyond."""
JUST = (0.18, 0.22)
"""Shares at which it just clips; our choice."""
NEAR = 0.02
"""Relative width of the amplitude at which the search for it ends otherwise; our choice."""
FAR = 0.85
"""Share of an amplitude before which it begins to clip at one that is far past clipping; ours."""
LONGEST = 1e4
"""Largest amplitude that is tried, as a multiple of the first guess; our choice."""
HEARD = 1e-3
"""An output that swings less than this share of the largest carries no signal; our choice."""


class Flattest(NamedTuple):
    """Where a driven amplifier is nearest to clipping, or furthest past it."""

    slope: float
    """As of :meth:`Drive.slopes`: 1 without distortion, 0 when flat."""
    begins: float
    """Least volts of the generators, either way, at which it is as flat as :data:`FLAT`."""
    output: Output
    angle: float
    """Where in the cycle, in radians from the generators' positive crest."""


def driven(
    steady: PeriodicState,
    generators: Sequence[Generator],
    amplitude: float,
    near: Drive | None = None,
) -> Drive:
    """An amplifier driven with ``amplitude`` volts peak, its supply sagging under it.

    ``steady``: its state without signal; ``near``: a drive of it by the same generators, to start
    from.  Raises NotSolved when no periodic waveform is found.
    """
    return _sagging(steady, generators, lambda band, near: band.drive(amplitude, near), near)


def driven_to_clipping(
    steady: PeriodicState,
    generators: Sequence[Generator],
    outputs: Sequence[Output],
    near: Drive | None = None,
) -> Drive:
    """As :func:`driven`, with the amplitude at which the first of the outputs clips."""
    return _sagging(steady, generators, lambda band, near: clipping(band, outputs, near), near)


def _sagging(
    steady: PeriodicState,
    generators: Sequence[Generator],
    find: Callable[[MidBand, Drive | None], Drive],
    near: Drive | None,
) -> Drive:
    """What ``find`` makes of an amplifier, once its supply has sagged as far as it does.

    A rectifier's mean current is not straight in the voltage: where the load moves that far, the
    supply is solved under it and ``find`` asked again.
    """
    band = MidBand(steady, generators) if near is None else near.band
    for _ in range(PASSES):
        near = find(band, near)
        if band.strayed(near) <= STRAIGHT:
            return near
        band = MidBand(steady, generators, supply_under(near))
    raise NotSolved("the supply and the driven amplifier find no common state")


def supply_under(drive: Drive) -> PeriodicState:
    """The mains cycle with the mean currents of a drive for the tubes: windings and rectifiers."""
    elements: list[Element] = []
    for element in drive.network.circuit.elements:
        if isinstance(element, Triode | Pentode):
            elements += _mean_loads(drive, element)
        else:
            elements.append(element)
    circuit = drive.network.circuit._replace(elements=tuple(elements))
    return periodic_state(circuit, start=drive.band.supply)


def _mean_loads(drive: Drive, tube: Triode | Pentode) -> Iterator[CurrentLoad]:
    ports = [("plate", tube.plate, drive.amperes), ("grid", tube.grid, drive.grid_amperes)]
    if isinstance(tube, Pentode):
        ports.append(("screen", tube.screen, drive.screen_amperes))
    for electrode, node, amperes in ports:
        mean = float(np.mean(amperes(tube.name)))
        yield CurrentLoad(f"{tube.name} {electrode}", node, tube.cathode, mean)


def clipping(band: MidBand, outputs: Sequence[Output], near: Drive | None = None) -> Drive:
    """The least amplitude at which one of the outputs flattens to :data:`FLAT`.

    Whatever the cause: grid current, a plate cut off or at its knee, a driver at its end.
    ``near``: a drive to start from.  Raises NotSolved when no signal arrives, or nothing clips.
    """
    first = band.first_grid()
    if not np.isfinite(first) or not any(band.gain(output) for output in outputs):
        raise NotSolved("the signal reaches no output", tuple(node for o in outputs for node in o))
    amplitude = first if near is None else near.amplitude
    low, high = 0.0, np.inf
    while amplitude <= LONGEST * first:
        near = band.drive(amplitude, near)
        slope, begins, *_ = flattest(near, outputs)
        if slope > FLAT:
            low = amplitude
        else:
            high = amplitude
        crest = (1.0 - NEAR) * amplitude <= begins <= amplitude
        if crest or JUST[0] <= slope <= JUST[1] or high <= (1.0 + NEAR) * low:
            return near
        if np.isinf(high):
            amplitude *= 2.0 if slope > 0.5 else 1.25
        else:
            # far past clipping a wave begins to flatten before it would at the edge
            least = math.sqrt(begins * high) if begins < FAR * high and not low else begins
            amplitude = least if low < least < high else math.sqrt(low * high)
    raise NotSolved(f"nothing clips up to {low:.3g} V peak of signal")


def flattest(drive: Drive, outputs: Sequence[Output]) -> Flattest:
    """Where any of the outputs that carry signal is flattest against the input."""
    swings = [float(np.ptp(drive.volts(a) - drive.volts(b))) for a, b in outputs]
    least = HEARD * max(swings)
    found = []
    for output, swing in zip(outputs, swings, strict=True):
        if swing > least:
            slopes = drive.slopes(output)
            at = int(np.argmin(slopes))
            angles = np.pi * (np.arange(slopes.size) + 0.5) / slopes.size
            given = drive.amplitude * np.abs(np.cos(angles))
            begins = float(np.min(given[slopes < FLAT], initial=np.inf))
            found.append(Flattest(float(slopes[at]), begins, output, float(angles[at])))
    if not found:
        raise NotSolved("the signal reaches no output", tuple(node for o in outputs for node in o))
    return min(found)
