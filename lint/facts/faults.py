"""Fault currents: what flows in the primary, and through each fuse, with one part shorted.

Mains low is taken: the weakest fault current is the one a fuse finds hardest to see.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.cold_start import TOUCH_VOLTS, ColdStart
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import State
from coldcheck.lint.model import Datum, Subject
from coldcheck.lint.netlist import Netlist, Setting, coil_names, indicators, netlist, primaries
from coldcheck.lint.physics.circuit import (
    Circuit,
    Coil,
    NotSolved,
    Resistor,
    SiliconDiode,
    Transformer,
    TubeDiode,
)
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.schemas.parts import Bridge, Capacitor, Fuse, MainsTransformer

# Windings above this carry HT.  Behind one of less, a short does no more than that of the winding.
HT_VOLTS = TOUCH_VOLTS
SHORT_OHMS = 1e-3
# A fault worth the name loads something twice over; below that a winding of no stated rating may
# be what suffers (our choice).
OVERLOAD = 2.0
# A fault current is nearly a sine: its rms at 64 samples a cycle is that of 128 to 0.1 %.  Pulses
# of rectifiers that have no part in it may be as narrow as they like.
SAMPLES = 64


class Fault(NamedTuple):
    """One part shorted."""

    name: str
    """ "the ht winding of T1 shorted", "C1 shorted", "D1 shorted" """
    about: Subject
    primary: Mapping[str, float]
    """rms amperes in the primary of each transformer, in the section with the most."""
    through: Mapping[str, float]
    """rms amperes through each fuse."""
    load: float | None
    """Largest rms current of a winding or primary over its rating; None where a rating lacks, 0
    where no primary carries more than with nothing wrong."""
    working: tuple[str, ...]


class Faults(NamedTuple):
    """Every fault looked at, and the mains voltage it was computed for."""

    mains: float
    cases: tuple[Fault, ...]
    rests_on: tuple[Datum, ...]


class _Short(NamedTuple):
    name: str
    about: Subject
    pair: tuple[str, str]
    idle: frozenset[str] = frozenset()
    """Rectifiers that make no difference to it, and cost the solver time."""


def make(design: Design, stages: Stages, cold: ColdStart) -> Faults:
    """Short each winding, rectifier and reservoir in turn, tubes cold, and solve the supply."""
    volts = design.document.site.mains.low
    rectifiers = tuple(_rectifiers(design, stages, cold))
    high = tuple(each for each in rectifiers if _carries_ht(design, each.winding))
    whole = netlist(design, Setting(volts, {}, indicators(design), tubes=False, loaded=False))
    shorts = (
        *_windings(design, frozenset(rectifier.name for rectifier in rectifiers)),
        *_diodes(design, high),
        *_reservoirs(design, cold.ground, high),
    )
    cases = tuple(_case(design, short, whole, cold.steady, volts) for short in shorts)
    return Faults(volts, cases, whole.data)


def _case(design: Design, short: _Short, whole: Netlist, sound: State, volts: float) -> Fault:
    kept = (element for element in whole.circuit.elements if element.name not in short.idle)
    elements = (*kept, Resistor("short", *short.pair, SHORT_OHMS))
    circuit = whole.circuit._replace(elements=elements)
    try:
        solved = periodic_state(circuit, SAMPLES, finest=SAMPLES)
    except NotSolved as trouble:
        what = f"{short.name}: {trouble}"
        raise NotSolved(what, trouble.nodes, trouble.elements) from None
    state = State(short.name, whole._replace(circuit=circuit), solved)
    primary = {
        part.ref: max(map(state.rms_amperes, coils))
        for part in design.of(MainsTransformer)
        if (coils := [*filter(state.knows, coil_names(part, "primary"))])
    }
    through = {
        part.ref: state.rms_amperes(part.ref) for part in design.of(Fuse) if state.knows(part.ref)
    }
    working = _working(circuit, short.pair, volts)
    # one of two diodes in series, say: the other goes on for both
    idle = all(
        state.rms_amperes(coil) <= sound.rms_amperes(coil)
        for part in design.of(MainsTransformer)
        for coil in filter(state.knows, coil_names(part, "primary"))
    )
    load = 0.0 if idle else _load(design, state)
    return Fault(short.name, short.about, primary, through, load, working)


def _load(design: Design, state: State) -> float | None:
    """How far the worst winding is past its rating; None where one without a rating may be."""
    loads, unrated = [], False
    for part in design.of(MainsTransformer):
        spec = part.spec
        rated = {name: winding.current for name, winding in spec.windings.items()}
        rated["primary"] = None if spec.rating is None else spec.rating / spec.primary.whole
        for name, most in rated.items():
            coils = filter(state.knows, coil_names(part, name))
            amperes = [state.rms_amperes(coil) for coil in coils]
            if most is not None:
                loads += [each / most for each in amperes]
            else:
                unrated |= bool(amperes)
    worst = max(loads, default=0.0)
    return None if unrated and worst <= OVERLOAD else worst


class _Rectifier(NamedTuple):
    """A diode, leg or plate that swings with the mains."""

    name: str
    part: str
    anode: str
    cathode: str
    nets: frozenset[str]
    """Nets of the schematic on either side of it."""
    winding: str
    """The winding its anode or cathode is on, "T1.ht"; "" where a resistor stands between."""


def _rectifiers(design: Design, stages: Stages, cold: ColdStart) -> Iterator[_Rectifier]:
    outputs = {stage.name: stage.outputs for stage in stages.rectifiers}
    elements = cold.steady.netlist.circuit.elements
    wound = {
        net: ".".join(coil.name.split(".")[:2])
        for element in elements
        if isinstance(element, Transformer) and element.magnetising is None
        for coil in element.coils
        if coil not in primaries(element)
        for net in (coil.a, coil.b)
        if net not in cold.ground
    }
    for element in elements:  # a fuse or a resistor may stand between
        if isinstance(element, Resistor):
            for one, other in ((element.a, element.b), (element.b, element.a)):
                if one in wound and other not in cold.ground:
                    wound.setdefault(other, wound[one])
    swinging = cold.steady.rectifiers - indicators(design)
    for element in elements:
        if isinstance(element, SiliconDiode | TubeDiode) and element.name in swinging:
            ends = element.anode, element.cathode
            winding = next((wound[end] for end in ends if end in wound), "")
            nets = frozenset(ends) | outputs.get(element.name, frozenset())
            part = element.name.partition(".")[0]
            yield _Rectifier(element.name, part, *ends, nets, winding)


def _carries_ht(design: Design, winding: str) -> bool:
    """Whether a winding, "T1.ht", is one of HT; what stands behind a resistor is taken to be."""
    low = {
        f"{part.ref}.{name}"
        for part in design.of(MainsTransformer)
        for name, spec in part.spec.windings.items()
        if spec.voltage.from_zero < HT_VOLTS
    }
    return winding not in low


def _windings(design: Design, rectifiers: frozenset[str]) -> Iterator[_Short]:
    """Each winding, behind its fuse where it has one; of a tapped one its first half.

    With a winding of few volts shorted the rectifiers on the others have nothing to feed, the
    tubes being cold: they are left open.
    """
    fuses = {
        net: fuse
        for fuse in design.of(Fuse)
        for net in fuse.ends.values()
        if len(design.nets[net]) == 2  # the winding and the fuse alone
    }
    for part in design.of(MainsTransformer):
        for name, terminals in part.spec.coils():
            winding = part.spec.windings.get(name)
            used = [terminal for terminal in terminals if terminal in part.ends]
            if winding is None or len(used) < 2:
                continue
            end = f"{name}.ct" if f"{name}.ct" in used[1:] else used[-1]
            a, b = part.ends[used[0]], part.ends[end]
            if a != b:
                half = "one half of " if end == f"{name}.ct" else ""
                said = f"{half}the {name} winding of {part.ref} shorted"
                fuse = next((fuses[net] for net in (a, b) if net in fuses), None)
                if fuse is not None:
                    said += f" behind {fuse.ref}"
                    a, b = (_behind(fuse, net) for net in (a, b))
                idle = frozenset[str]() if winding.voltage.from_zero >= HT_VOLTS else rectifiers
                yield _Short(said, part.subject, (a, b), idle)


def _behind(fuse: Use[Fuse], net: str) -> str:
    """The other side of a fuse, for a net that it is on."""
    ends = list(fuse.ends.values())
    return ends[1 - ends.index(net)] if net in ends and len(set(ends)) == 2 else net


def _diodes(design: Design, rectifiers: tuple[_Rectifier, ...]) -> Iterator[_Short]:
    """One diode, leg or plate of those that are alike: of a bridge, or of all that take their
    current from one winding to one net.  What is left of them carries the fault, whichever it is."""
    alike: dict[tuple[str, str], _Rectifier] = {}
    for each in rectifiers:
        bridge = isinstance(design.parts[each.part].spec, Bridge)
        alike.setdefault((each.winding, each.part if bridge else each.cathode), each)
    for each in alike.values():
        part = design.parts[each.part]
        one = "" if each.name == each.part else "one path through "
        yield _Short(f"{one}{each.part} shorted", part.subject, (each.anode, each.cathode))


def _reservoirs(
    design: Design, ground: frozenset[str], rectifiers: tuple[_Rectifier, ...]
) -> Iterator[_Short]:
    """Capacitors to ground on the output of a rectifier; in a doubler, those from the winding to
    the output or to ground; and two in series, for when one shorts the other gets it all."""
    wound = {
        net
        for part in design.of(MainsTransformer)
        for name in {each.winding for each in rectifiers}
        for end, net in part.ends.items()
        if f"{part.ref}.{end}".startswith(f"{name}.")
    }
    fed = {net for each in rectifiers for net in each.nets} - ground
    stacked: dict[str, Use[Capacitor]] = {}
    for part in design.of(Capacitor):
        a, b = (part.net(terminal) or "" for terminal in part.spec.terminals())
        nets, electrolytic = {a, b} - {""}, part.spec.dielectric == "electrolytic"
        if len(nets) < 2:
            continue
        if (nets & ground and nets & fed) or (
            electrolytic and nets & wound - ground and nets <= ground | fed | wound
        ):
            yield _Short(f"{part.ref} shorted", part.subject, (a, b))
        elif electrolytic and nets & (ground | fed):
            inner = nets - ground - fed
            if len(inner) != 1:
                continue
            middle = inner.pop()
            mate = stacked.setdefault(middle, part)
            outer = (nets | set(mate.ends.values())) - {middle}
            if outer & ground and outer & fed:
                low, high = min(outer & ground), min(outer & fed)
                yield _Short(f"{mate.ref} and {part.ref} shorted", mate.subject, (high, low))


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
