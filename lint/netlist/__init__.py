"""From a design to a circuit: the one place where documents meet physics.

Nodes are net names; ``chassis`` is ground.  Elements are written by
:mod:`coldcheck.lint.netlist.elements`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from coldcheck.lint.design import METAL, Design
from coldcheck.lint.model import Datum, Missing
from coldcheck.lint.netlist.elements import Writer, running_position
from coldcheck.lint.netlist.windings import coil_names, primaries
from coldcheck.lint.physics.bridges import bridges
from coldcheck.lint.physics.circuit import Circuit, Resistor, Source
from coldcheck.lint.physics.floating import floating_nodes
from coldcheck.schemas import parts as kinds

__all__ = [
    "TIE",
    "Netlist",
    "Setting",
    "coil_names",
    "indicators",
    "netlist",
    "primaries",
    "running_position",
]

# Ties a part of the circuit that floats to ground so that it has a voltage; carries no current.
TIE_OHMS = 1e7
TIE = "tie to "
"""Begins the names of those ties."""


class Setting(NamedTuple):
    """How the circuit stands: mains, switch positions, what is taken out or shorted."""

    mains_volts: float | None
    """rms at the inlet; None when the mains is off."""
    positions: Mapping[str, str] = MappingProxyType({})
    """Switch to position; a switch left out stands where it joins the most."""
    open_parts: frozenset[str] = frozenset()
    """Parts taken out: blown fuses, broken chokes."""
    shorted: tuple[tuple[str, str], ...] = ()
    """Pairs of nets joined by a fault."""
    tubes: bool = True
    """Whether the amplifying tubes conduct; their heaters are always there."""
    emission: float = 1.0
    """Share of their full current that tubes heated by a heater give, rectifiers among them; one
    whose filament is the cathode gives all of it, being hot within seconds."""
    cold: bool = False
    """Whether heaters, lamps and thermistors have their cold resistance."""
    core: bool = False
    """Whether the cores of mains transformers draw a magnetising current and saturate."""
    wipers: Mapping[str, float] = MappingProxyType({})
    """Potentiometer to the share of its resistance between ccw and wiper; others stand as the
    document leaves them, or midway."""
    open_ends: frozenset[str] = frozenset()
    """Terminals that touch nothing: "RV1.wiper", "T1.bias.1"."""
    loaded: bool = True
    """Whether the loudspeaker is connected."""


class Netlist(NamedTuple):
    """A circuit, and what in it rests on weak figures."""

    circuit: Circuit
    data: tuple[Datum, ...]
    floating: tuple[tuple[str, ...], ...]
    """Groups of nets with no dc path to ground; each was tied to it by one large resistor, but for
    the winding of a bridge."""
    core_data: tuple[Datum, ...] = ()
    """Weak figures of iron: for what depends on saturation and magnetising, and nothing else."""


def netlist(design: Design, setting: Setting, conductors: tuple[Resistor, ...] = ()) -> Netlist:
    """The circuit of a design in a setting, with ``conductors`` between its nets where the design
    is split (:mod:`coldcheck.lint.netlist.soldered`); raises Missing that names every datum that
    lacks."""
    ground = _ground(design)
    if design.nets.keys() <= {ground}:
        raise Missing("the schematic" if not design.nets else "a second net", ("schematic",))
    writer = Writer(design, setting, ground)
    elements = (*writer.elements(), *conductors)
    if setting.mains_volts is not None and not any(isinstance(e, Source) for e in elements):
        # without one every voltage would come out as nothing, and nothing is a clean bill
        raise Missing("what feeds it: a mains inlet or a voltage source, connected", ("parts",))
    circuit = Circuit(elements, ground, design.document.site.mains.frequency)
    # with the mains off nothing may leak that the circuit does not let leak
    adrift = floating_nodes(circuit) if setting.mains_volts is not None else ()
    # a bridge holds its winding between its rails
    held = {node for bridge in bridges(circuit) for node in bridge.winding} if adrift else set()
    ties = tuple(
        Resistor(f"{TIE}{group[0]}", _anchor(design, group), ground, TIE_OHMS)
        for group in adrift
        if held.isdisjoint(group)
    )
    circuit = Circuit(elements + ties, ground, circuit.mains_hz)
    data, core_data = (tuple(dict.fromkeys(d)) for d in (writer.data, writer.core_data))
    return Netlist(circuit, data, adrift, core_data)


def indicators(design: Design) -> frozenset[str]:
    """LEDs, and diodes straight across one: left out where only the supply matters.

    They draw milliamperes, yet each costs the solver as much as a rectifier.
    """
    leds = {part.ref: frozenset(part.ends.values()) for part in design.of(kinds.Led)}
    across = [d.ref for d in design.of(kinds.Diode) if frozenset(d.ends.values()) in leds.values()]
    return frozenset([*leds, *across])


def _ground(design: Design) -> str:
    """The chassis where something is bonded to it, else the net most capacitors return to."""
    if METAL in design.nets:
        return METAL
    returns: dict[str, int] = {}
    for part in design.of(kinds.Capacitor):
        net = part.net(part.spec.terminals()[1])
        if net is not None:
            returns[net] = returns.get(net, 0) + 1
    if returns:
        return min(returns, key=lambda net: (-returns[net], net))
    return min(design.nets, default=METAL)


def _anchor(design: Design, group: tuple[str, ...]) -> str:
    """The node of a floating group to tie: the one with the most parts on it."""
    return min(group, key=lambda net: (-len(design.nets.get(net, ())), net))
