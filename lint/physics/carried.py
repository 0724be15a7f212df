"""The steady state of one circuit as a guess of another's that has its rectifiers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from coldcheck.lint.physics.circuit import NotSolved, Source
from coldcheck.lint.physics.dc import Devices, newton
from coldcheck.lint.physics.devices import Array
from coldcheck.lint.physics.junctions import Mask
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.periodic import Averaged, PeriodicState

GUESSED = 1e-2
"""Last relative step of the tubes' voltages with which a guess of the means is good enough; our
choice."""


def carried(start: PeriodicState, network: Network) -> PeriodicState | None:
    """A state of one circuit as a guess of another's; None where that has diodes of its own.

    Its waves grow as the mains does; their means are those of the other circuit fed by the same
    rectifiers, as :meth:`PeriodicState.averaged` has them.  A rectifier keeps its voltage where it
    conducts, whatever the means, and stays blocked elsewhere.
    """
    names = network.diodes.names
    if not {*names} <= {*start.network.diodes.names, *start.network.shared}:
        return None
    swinging = start.swinging[[start.network.port(name) for name in names]]
    known, waves = start.network.places(), np.zeros((network.size, start.time.size))
    for place, k in network.places().items():
        if place in known:
            waves[k] = start.solution[known[place]]
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
    fed = Averaged(
        rows, siemens[np.ix_(kept, kept)], _grown(start.network, network) * amperes[kept]
    )
    equations = devices.equations(fed.into(network.dc), network.steady + rows.T @ fed.amperes)
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
