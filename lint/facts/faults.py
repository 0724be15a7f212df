"""Fault currents: what flows in the primary, and through each fuse, with one part shorted.

Mains low is taken: the weakest fault current is the one a fuse finds hardest to see.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from coldcheck.lint.design import Design, PartUse, Use
from coldcheck.lint.facts.cold_start import TOUCH_VOLTS
from coldcheck.lint.facts.warm import State
from coldcheck.lint.graphs.schematic import Body, Schematic, Section
from coldcheck.lint.model import Datum, Subject
from coldcheck.lint.netlist import Setting, coil_names, indicators, netlist, primaries
from coldcheck.lint.physics.circuit import Circuit, Coil, Transformer
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.schemas.parts import Bridge, Capacitor, Diode, Fuse, MainsTransformer

# Windings above this carry HT; a heater or bias winding is for its own fuse to guard.
HT_VOLTS = TOUCH_VOLTS


class Fault(NamedTuple):
    """One part shorted."""

    name: str
    """ "the ht winding of T1 shorted", "C1 shorted" """
    about: Subject
    primary: Mapping[str, float]
    """rms amperes in the primary of each transformer, in the section with the most."""
    through: Mapping[str, float]
    """rms amperes through each fuse."""
    working: tuple[str, ...]


class Faults(NamedTuple):
    """Every fault looked at, and the mains voltage it was computed for."""

    mains: float
    cases: tuple[Fault, ...]
    rests_on: tuple[Datum, ...]


def make(design: Design, schematic: Schematic) -> Faults:
    """Short each HT winding and each reservoir in turn, tubes cold, and solve the supply."""
    volts = design.document.site.mains.low
    cases: list[Fault] = []
    data: tuple[Datum, ...] = ()
    for name, about, pair in _shorts(design, schematic):
        written = netlist(
            design,
            Setting(volts, {}, indicators(design), shorted=(pair,), tubes=False, loaded=False),
        )
        state = State(name, written, periodic_state(written.circuit))
        data = written.data
        primary = {
            part.ref: max(loads)
            for part in design.of(MainsTransformer)
            if (
                loads := [*map(state.rms_amperes, filter(state.knows, coil_names(part, "primary")))]
            )
        }
        through = {
            part.ref: state.rms_amperes(part.ref)
            for part in design.of(Fuse)
            if state.knows(part.ref)
        }
        cases.append(Fault(name, about, primary, through, _working(written.circuit, pair, volts)))
    return Faults(volts, tuple(cases), data)


def _shorts(design: Design, schematic: Schematic) -> Iterator[tuple[str, Subject, tuple[str, str]]]:
    for part in design.of(MainsTransformer):
        for name, terminals in part.spec.coils():
            if (
                name not in part.spec.windings
                or part.spec.windings[name].voltage.from_zero < HT_VOLTS
            ):
                continue
            used = [terminal for terminal in terminals if terminal in part.ends]
            tap = f"{name}.ct"
            if len(used) > 1:
                ends = used[0], tap if tap in used[1:] else used[-1]
                half = "one half of " if tap in ends else ""
                pair = part.ends[ends[0]], part.ends[ends[1]]
                yield f"{half}the {name} winding of {part.ref} shorted", part.subject, pair
    for cap in reservoirs(design, schematic):
        a, b = (cap.ends[t] for t in cap.spec.terminals())
        yield f"{cap.ref} shorted", cap.subject, (a, b)


def reservoirs(design: Design, schematic: Schematic) -> list[Use[Capacitor]]:
    """Capacitors to ground on the output of a rectifier that is fed by an HT winding.

    In a doubler, those from the winding to the rectifier's output or to ground.
    """
    ground = schematic.ground()
    wound = {
        net
        for part in design.of(MainsTransformer)
        for section in schematic.of(part.ref)
        if section.name in part.spec.windings
        and part.spec.windings[section.name].voltage.from_zero >= HT_VOLTS
        for net in section.nets
    }
    fed = {
        net
        for section in schematic.sections.values()
        if _rectifies(design.parts[section.part], section) and wound & set(section.nets)
        for net in section.nets
        if net not in ground
    }
    found = []
    for part in design.of(Capacitor):
        nets = set(part.ends.values())
        doubling = part.spec.dielectric == "electrolytic" and nets & wound - ground
        if len(nets) == 2 and (
            (nets & ground and nets & fed) or (doubling and nets <= ground | fed | wound)
        ):
            found.append(part)
    return found


def _rectifies(part: PartUse, section: Section) -> bool:
    if section.body is Body.DIODE:
        return isinstance(part.spec, Diode | Bridge)
    return part.tube is not None and any(s.kind == "diode" for s in part.tube.sections)


def _working(circuit: Circuit, pair: tuple[str, str], volts: float) -> tuple[str, ...]:
    """For a shorted winding: the sum by hand, I = V / (Rp + Rs (Vp / Vs)^2)."""
    for element in circuit.elements:
        if isinstance(element, Transformer):
            primary, *more = primaries(element) or element.coils
            for coil in element.coils:
                if not more and coil is not primary and {coil.a, coil.b} == set(pair):
                    return (_by_hand(primary, coil, volts),)
    return ()


def _by_hand(primary: Coil, coil: Coil, volts: float) -> str:
    ratio = primary.turns / coil.turns
    total = primary.ohms + coil.ohms * ratio**2
    return (
        f"{volts:.0f} V / ({primary.ohms:.3g} ohm + {coil.ohms:.3g} ohm x {ratio:.3g}^2)"
        f" = {volts / total:.3g} A, other windings left out"
    )
