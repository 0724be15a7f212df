"""What is neither linear nor a tube, as one vector of ports with one law.

Diodes of every kind and saturating iron have one port each, transistors and regulators two.  The
order is: silicon, tube and zener diodes, glow tubes, iron, then the first ports of all bipolar
transistors and their second ports, likewise of MOS transistors and of regulators.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Circuit,
    Element,
    GlowTube,
    Inductor,
    Mosfet,
    Regulator,
    SiliconDiode,
    Transformer,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.devices import (
    Array,
    child_current,
    glow_current,
    iron_current,
    silicon_current,
    zener_current,
)
from coldcheck.lint.physics.semiconductors import (
    bipolar_currents,
    mosfet_currents,
    regulator_currents,
)

Mask = NDArray[np.bool_]
Places = NDArray[np.intp]

DARK = 1e9
"""Volts at which a glow tube that is dark would conduct: never."""
REACH = 60.0
"""How far, in volts, one Newton step may move a port (and 0.3 of its voltage besides); our choice.
Ports at which a volt decides everything move by :data:`SHORT_REACH`."""
SHORT_REACH = 2.0

Port = tuple[str, str]


class Slopes(NamedTuple):
    """Derivatives of port currents by port voltages, in siemens.

    ``own`` (p, samples): each by its own voltage.  ``cross`` (c, samples): current ``row`` by
    voltage ``column``, (c,) each, for devices of two ports.
    """

    own: Array
    row: Places
    column: Places
    cross: Array


class Kind(NamedTuple):
    """Devices of one law: ``columns`` are its parameters, (k, 1) each."""

    names: tuple[str, ...]
    law: Callable[..., tuple[Array, ...]]
    columns: tuple[Array, ...]
    ports: int
    start: Array
    """(ports * k,) volts near which they usually work."""
    reach: Array


NONE = Kind((), lambda: (), (), 1, np.zeros(0), np.zeros(0))


def _column(things: Sequence[object], name: str) -> Array:
    return np.array([[getattr(thing, name)] for thing in things], dtype=float)


def _kind(
    things: Sequence[Element],
    law: Callable[..., tuple[Array, ...]],
    *parameters: str,
    start: Sequence[Sequence[float]] = (),
    reach: Sequence[float] = (REACH,),
) -> Kind:
    count = len(things)
    if not count:
        return NONE
    return Kind(
        tuple(thing.name for thing in things),
        law,
        tuple(_column(things, name) for name in parameters),
        len(reach),
        np.concatenate(start) if start else np.zeros(count),
        np.repeat(np.array(reach), count),
    )


class Iron(NamedTuple):
    """A saturating core or choke: ``reactance`` in ohms, ``knee`` in amperes, inductance over
    saturated inductance less 1."""

    name: str
    reactance: float
    knee: float
    ratio: float


def irons(circuit: Circuit) -> Iterator[Iron]:
    """Whatever saturates in a circuit, seen at its own terminals or at its first coil."""
    omega = 2.0 * np.pi * circuit.mains_hz
    for element in circuit.elements:
        if isinstance(element, Inductor | Transformer) and element.saturation is not None:
            own = element.henries if isinstance(element, Inductor) else element.magnetising
            if own is not None:
                left = element.saturation
                yield Iron(element.name, omega * own, left.amperes, own / left.henries - 1.0)


def _ends(device: Element) -> tuple[Port, ...]:
    """The ports of a device, turned round for the opposite polarity."""
    ports: tuple[Port, ...]
    match device:
        case Bipolar():
            ports = (device.base, device.emitter), (device.base, device.collector)
        case Mosfet():
            ports = (device.gate, device.source), (device.drain, device.source)
        case Regulator():
            ports = (device.output, device.common), (device.input, device.output)
        case SiliconDiode() | TubeDiode() | ZenerDiode() | GlowTube():
            return ((device.anode, device.cathode),)
        case _:
            raise TypeError(device)
    return tuple((b, a) for a, b in ports) if device.polarity < 0 else ports


def _glow(
    volts: Array, ohms: Array, strikes: Array, dark: Array, across: Array
) -> tuple[Array, Array]:
    return glow_current(np.where(dark > 0.0, DARK, volts), ohms, across)


def terminal_amperes(device: Element, first: Array, second: Array) -> Array:
    """Currents into the terminals of a device of two ports, (3, ...), from those of its ports.

    In the order of :func:`coldcheck.lint.physics.floating.terminals`.
    """
    match device:
        case Bipolar():
            currents = -second, first + second, -first
        case Mosfet():
            currents = second, first, -first - second
        case Regulator():
            currents = second, first - second, -first
        case _:
            raise TypeError(device)
    return np.stack(currents) * device.polarity


class Junctions:
    """All such ports of a circuit, or some of them.

    ``names`` (p,) holds the device of each port, ``count`` is p.  ``ends`` are the electrodes of
    each port; of iron, whose port is its flux, its name twice.
    """

    def __init__(self, kinds: Sequence[Kind], ends: Sequence[Port]) -> None:
        self._kinds = [kind for kind in kinds if kind.names]
        self.ends = list(ends)
        self.names = [name for kind in self._kinds for name in kind.names * kind.ports]
        self.count = len(self.names)
        none = [np.zeros(0)]
        self.start = np.concatenate([kind.start for kind in self._kinds] or none)
        self.reach = np.concatenate([kind.reach for kind in self._kinds] or none)
        self.one_way = np.zeros(self.count, dtype=bool)
        """(p,) which are diodes: they do not conduct when opened ends make them negative."""
        self.paired = np.zeros(self.count, dtype=bool)
        """(p,) which belong to a device of two ports."""
        row: list[int] = []
        column: list[int] = []
        first = 0
        for kind in self._kinds:
            k = len(kind.names)
            here = slice(first, first + kind.ports * k)
            self.one_way[here] = kind.law in ONE_WAY
            self.paired[here] = kind.ports == 2
            if kind.ports == 2:
                row += [*range(first, first + k), *range(first + k, first + 2 * k)]
                column += [*range(first + k, first + 2 * k), *range(first, first + k)]
            first = here.stop
        self.row, self.column = np.array(row, dtype=np.intp), np.array(column, dtype=np.intp)

    @classmethod
    def of(cls, circuit: Circuit, twins: Mapping[str, str] | None = None) -> Junctions:
        """Those of a circuit; of ``twins``, silicon diodes with the same current, only the first,
        at the voltage of both."""
        twins = twins or {}
        seconds = set(twins.values())
        by_kind: dict[type, list[Element]] = {}
        for element in circuit.elements:
            if element.name in seconds:
                continue
            if isinstance(element, SiliconDiode) and element.name in twins:
                element = element._replace(slope=2.0 * element.slope)
            by_kind.setdefault(type(element), []).append(element)

        def found(kind: type) -> list[Element]:
            return by_kind.get(kind, [])

        iron = list(irons(circuit))
        cores = _kind(iron, iron_current, "reactance", "knee", "ratio")  # type: ignore[arg-type]
        if iron:
            reach = np.array([max(REACH, core.reactance * core.knee) for core in iron])
            cores = cores._replace(reach=reach)
        glow = _kind(found(GlowTube), _glow, "volts", "ohms", "strikes")
        bipolar, mos, regulators = found(Bipolar), found(Mosfet), found(Regulator)
        kinds = [
            _kind(found(SiliconDiode), silicon_current, "saturation", "slope"),
            _kind(found(TubeDiode), child_current, "perveance"),
            _kind(found(ZenerDiode), zener_current, "volts", "ohms"),
            glow._replace(columns=(*glow.columns, np.zeros((len(glow.names), 1)))),
            cores,
            _kind(
                bipolar,
                bipolar_currents,
                *("saturation", "slope", "gain"),
                start=([0.6] * len(bipolar), [-20.0] * len(bipolar)),
                reach=(SHORT_REACH, REACH),
            ),
            _kind(
                mos,
                mosfet_currents,
                *("threshold", "steepness"),
                start=([x.threshold + 0.5 for x in mos], [50.0] * len(mos)),  # type: ignore[union-attr]
                reach=(SHORT_REACH, REACH),
            ),
            _kind(
                regulators,
                regulator_currents,
                *("volts", "ohms", "dropout", "most", "quiescent"),
                start=(
                    [x.volts for x in regulators],  # type: ignore[union-attr]
                    [2.0 * x.dropout for x in regulators],  # type: ignore[union-attr]
                ),
                reach=(SHORT_REACH, REACH),
            ),
        ]
        ends: list[Port] = []
        for kind in (SiliconDiode, TubeDiode, ZenerDiode, GlowTube):
            ends += [port for device in found(kind) for port in _ends(device)]
        ends += [(core.name, core.name) for core in iron]
        for two in (bipolar, mos, regulators):
            pairs = [_ends(device) for device in two]
            ends += [pair[0] for pair in pairs] + [pair[1] for pair in pairs]
        return cls(kinds, ends)

    def dark(self) -> tuple[str, ...]:
        """Names of the glow tubes that are dark, if dark at every sample."""
        for kind in self._kinds:
            if kind.law is _glow:
                lit = (kind.columns[3] == 0.0).sum(axis=1)
                return tuple(n for n, k in zip(kind.names, lit, strict=True) if not k)
        return ()

    def into(self, device: Element, current: Array) -> Array:
        """:func:`terminal_amperes` of one of these devices, from all port currents, (p, ...)."""
        first = self.names.index(device.name)
        second = self.names.index(device.name, first + 1)
        return terminal_amperes(device, current[first], current[second])

    def subset(self, chosen: Mask) -> Junctions:
        """The ports chosen, in the same order; both ports of a device or neither."""
        kinds, first = [], 0
        for kind in self._kinds:
            k = len(kind.names)
            here = chosen[first : first + k]
            every = chosen[first : first + k * kind.ports]
            first += k * kind.ports
            kinds.append(
                kind._replace(
                    names=tuple(n for n, c in zip(kind.names, here, strict=True) if c),
                    columns=tuple(column[here] for column in kind.columns),
                    start=kind.start[every],
                    reach=kind.reach[every],
                )
            )
        return Junctions(kinds, [e for e, c in zip(self.ends, chosen, strict=True) if c])

    def whole(self, chosen: Mask) -> Mask:
        """``chosen`` (p,), with the other port of every device of which one was chosen."""
        more = chosen.copy()
        more[self.row] |= chosen[self.column]
        return more

    def knees(self) -> tuple[Array, Array]:
        """Volts of flux and amperes at which iron bends, (p,) each; of all else infinity and 0."""
        volts, amperes, first = np.full(self.count, np.inf), np.zeros(self.count), 0
        for kind in self._kinds:
            here = slice(first, first + len(kind.names) * kind.ports)
            if kind.law is iron_current:
                reactance, knee, _ = kind.columns
                volts[here], amperes[here] = (reactance * knee)[:, 0], knee[:, 0]
            first = here.stop
        return volts, amperes

    @property
    def glow(self) -> Places:
        """The ports of glow tubes."""
        first = 0
        for kind in self._kinds:
            if kind.law is _glow:
                return np.arange(first, first + len(kind.names))
            first += len(kind.names) * kind.ports
        return np.zeros(0, dtype=np.intp)

    def darkened(self, dark: Mask) -> Junctions:
        """The same with those glow tubes dark; ``dark`` (glow tubes,) or (glow tubes, samples)."""
        column = (dark if dark.ndim == 2 else dark[:, None]).astype(float)
        kinds = [
            kind._replace(columns=(*kind.columns[:3], column)) if kind.law is _glow else kind
            for kind in self._kinds
        ]
        return Junctions(kinds, self.ends)

    def strikes(self, volts: Array) -> Mask:
        """Where a glow tube has its striking voltage, (glow tubes, samples)."""
        for kind in self._kinds:
            if kind.law is _glow:
                return np.asarray(volts[self.glow] >= kind.columns[2])
        return np.zeros((0, volts.shape[1]), dtype=bool)

    def currents(self, volts: Array) -> tuple[Array, Array]:
        """Port currents and their own slopes in A and A/V; ``volts`` has shape (p, samples)."""
        current, slopes = self.law(volts)
        return current, slopes.own

    def law(self, volts: Array) -> tuple[Array, Slopes]:
        """Port currents, (p, samples), and all their slopes."""
        currents, own, cross, first = [], [], [], 0
        for kind in self._kinds:
            k = len(kind.names)
            if kind.ports == 1:
                current, slope = kind.law(*kind.columns, volts[first : first + k])
                currents.append(current)
                own.append(slope)
                first += k
                continue
            one, two = volts[first : first + k], volts[first + k : first + 2 * k]
            parts = kind.law(*kind.columns, one, two)
            currents += parts[:2]
            own += [parts[2], parts[5]]
            cross += [parts[3], parts[4]]
            first += 2 * k
        if len(currents) == 1:
            return currents[0], Slopes(own[0], self.row, self.column, volts[:0])
        if not currents:
            return np.zeros_like(volts), Slopes(volts, self.row, self.column, volts[:0])
        mutual = np.concatenate(cross) if cross else volts[:0]
        slopes = Slopes(np.concatenate(own), self.row, self.column, mutual)
        return np.concatenate(currents), slopes


ONE_WAY = (silicon_current, child_current, zener_current, _glow)
