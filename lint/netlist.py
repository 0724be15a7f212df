"""From a design to circuit elements: the one place where documents meet physics.

Element names follow references: "R4", "T1.ht.1" (a coil), "V1" or "V1.2" (a tube section),
"V1.heater", "S1.1-2".  Nodes are net names; ``chassis`` is ground.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from coldcheck.lint.design import METAL, Design, PartUse
from coldcheck.lint.graphs.schematic import HEATED
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    CurrentLoad,
    Element,
    Inductor,
    Pentode,
    PentodeLaw,
    Resistor,
    SiliconDiode,
    Source,
    Transformer,
    Triode,
    TriodeLaw,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.floating import floating_nodes
from coldcheck.schemas import parts as kinds
from coldcheck.schemas.reference import fuse_item

Value = TypeVar("Value")

# Contact resistance of a closed switch or fresh bond: small beside any winding.  Our choice; a
# switch data sheet allows 10 to 50 milliohm (from memory).
CONTACT_OHMS = 0.01
# A fuse of a rating the library has no cold resistance for; a 1 A time-lag fuse has 0.1 ohm.
FUSE_OHMS = 0.1
# Ties a part of the circuit that floats to ground so that it has a voltage; carries no current.
TIE_OHMS = 1e7
# Silicon rectifier: the SPICE parameters commonly published for the 1N4007 class (from memory):
# saturation current 7.03 nA, emission coefficient 1.808 (times 25.85 mV at 27 degC), 34 milliohm.
SILICON = (7.03e-9, 1.808 * 0.02585, 0.034)
# Slope of an LED's exponential: emission coefficient 2 times 25.85 mV (from memory).
LED_SLOPE = 2 * 0.02585
LED_OHMS = 2.0
# A zener's slope resistance where the document gives none (assumed).
ZENER_OHMS = 10.0
# Primary inductance of an output transformer where none is given: only ripple depends on it.
MAGNETISING_HENRIES = 10.0


@dataclass(frozen=True, slots=True)
class Setting:
    """How the circuit stands: mains, switch positions, what is taken out or shorted."""

    mains_volts: float | None
    """rms at the inlet; None when the mains is off."""
    positions: Mapping[str, str] = field(default_factory=dict)
    """Switch to position; a switch left out stands where it joins the most."""
    open_parts: frozenset[str] = frozenset()
    """Parts taken out: blown fuses, broken chokes."""
    shorted: tuple[tuple[str, str], ...] = ()
    """Pairs of nets joined by a fault."""
    tubes: bool = True
    """Whether the amplifying tubes conduct; their heaters are always there."""
    loaded: bool = True
    """Whether the loudspeaker is connected."""


@dataclass(frozen=True, slots=True)
class Netlist:
    """A circuit, and what in it rests on weak figures."""

    circuit: Circuit
    data: tuple[Datum, ...]
    floating: tuple[tuple[str, ...], ...]
    """Groups of nets with no dc path to ground; each was tied to it by one large resistor."""


def netlist(design: Design, setting: Setting) -> Netlist:
    """The circuit of a design in a setting; raises Missing for the first datum that lacks."""
    writer = _Writer(design, setting)
    elements = tuple(writer.elements())
    ground = _ground(design)
    circuit = Circuit(elements, ground, design.document.site.mains.frequency)
    adrift = floating_nodes(circuit)
    ties = tuple(
        Resistor(f"tie to {group[0]}", _anchor(design, group), ground, TIE_OHMS) for group in adrift
    )
    circuit = Circuit(elements + ties, ground, circuit.mains_hz)
    return Netlist(circuit, tuple(writer.data), adrift)


def running_position(switch: kinds.Switch) -> str:
    """The position in which a switch joins the most; the last such when several do."""
    best = max(len(pairs) for pairs in switch.positions.values())
    return [name for name, pairs in switch.positions.items() if len(pairs) == best][-1]


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


class _Writer:
    def __init__(self, design: Design, setting: Setting) -> None:
        self.design = design
        self.setting = setting
        self.data: list[Datum] = []

    def elements(self) -> Iterator[Element]:
        for part in self.design.parts.values():
            if part.ref not in self.setting.open_parts:
                yield from self._part(part)
        for at, (a, b) in enumerate(self.setting.shorted):
            yield Resistor(f"short {at}", a, b, 1e-3)

    def _part(self, part: PartUse) -> Iterator[Element]:
        spec = part.spec
        for kind, write in _WRITERS.items():
            if isinstance(spec, kind):
                yield from write(self, part, spec)

    def nets(self, part: PartUse) -> list[str] | None:
        """Nets of all terminals in order, or None when one is not connected."""
        found = [part.net(terminal) for terminal in part.spec.terminals()]
        return None if None in found or not found else [net for net in found if net is not None]

    def resistor(self, part: PartUse, spec: kinds.Resistor) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            yield Resistor(part.ref, nets[0], nets[1], spec.value)

    def capacitor(self, part: PartUse, spec: kinds.Capacitor) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            yield Capacitor(part.ref, nets[0], nets[1], spec.value)

    def choke(self, part: PartUse, spec: kinds.Choke) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            ohms = self.needs(part, spec.resistance, "resistance", "its winding resistance")
            yield Inductor(part.ref, nets[0], nets[1], spec.inductance, ohms)

    def diode(self, part: PartUse, spec: kinds.Diode) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            yield SiliconDiode(part.ref, nets[0], nets[1], *SILICON)

    def led(self, part: PartUse, spec: kinds.Led) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            drop = spec.voltage - spec.current * LED_OHMS
            saturation = spec.current / math.expm1(min(drop / LED_SLOPE, 300.0))
            yield SiliconDiode(part.ref, nets[0], nets[1], saturation, LED_SLOPE, LED_OHMS)

    def zener(self, part: PartUse, spec: kinds.Zener) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            yield ZenerDiode(part.ref, nets[0], nets[1], spec.voltage, spec.slope or ZENER_OHMS)

    def bridge(self, part: PartUse, spec: kinds.Bridge) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            ac1, ac2, plus, minus = nets
            for name, anode, cathode in (
                ("ac1+", ac1, plus),
                ("ac2+", ac2, plus),
                ("ac1-", minus, ac1),
                ("ac2-", minus, ac2),
            ):
                yield SiliconDiode(f"{part.ref}.{name}", anode, cathode, *SILICON)

    def fuse(self, part: PartUse, spec: kinds.Fuse) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            item = fuse_item(spec.standard, spec.sheet, spec.current)
            ohms = spec.resistance or (item.cold_ohms if item is not None else FUSE_OHMS)
            yield Resistor(part.ref, nets[0], nets[1], ohms)

    def switch(self, part: PartUse, spec: kinds.Switch) -> Iterator[Element]:
        position = self.setting.positions.get(part.ref, running_position(spec))
        for pair in spec.positions[position]:
            a, b = (part.net(end) for end in pair.split("-"))
            if a is not None and b is not None and a != b:
                yield Resistor(f"{part.ref}.{pair}", a, b, CONTACT_OHMS)

    def bond(self, part: PartUse, spec: kinds.ChassisBond) -> Iterator[Element]:
        net = part.net("lug")
        if net is not None and net != METAL:
            yield Resistor(part.ref, net, METAL, CONTACT_OHMS)

    def inlet(self, part: PartUse, spec: kinds.Inlet) -> Iterator[Element]:
        line, neutral = part.net("L"), part.net("N")
        if line is None or neutral is None:
            return
        if neutral != METAL:
            # neutral is earthed at the supply (TN systems, IEC 60364-1, from memory)
            yield Resistor(f"{part.ref}.N", neutral, _ground(self.design), 1.0)
        if self.setting.mains_volts is not None:
            peak = self.setting.mains_volts * math.sqrt(2.0)
            yield Source(f"{part.ref}.L", line, neutral, peak=peak)

    def potentiometer(self, part: PartUse, spec: kinds.Potentiometer) -> Iterator[Element]:
        # at half its value; a volume control's setting moves no dc worth the name
        for a, b in (("ccw", "wiper"), ("wiper", "cw")):
            one, other = part.net(a), part.net(b)
            if one is not None and other is not None and one != other:
                yield Resistor(f"{part.ref}.{a}", one, other, spec.value / 2)

    def lamp(self, part: PartUse, spec: kinds.Lamp) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            yield Resistor(part.ref, nets[0], nets[1], spec.voltage / spec.current)

    def battery(self, part: PartUse, spec: kinds.VoltageSource) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            inner = f"{part.ref}:inner"
            yield Source(part.ref, inner, nets[1], dc=spec.voltage)
            yield Resistor(f"{part.ref}.ohms", inner, nets[0], spec.resistance)

    def transistor(self, part: PartUse, spec: kinds.Transistor) -> Iterator[Element]:
        first, last = part.net(spec.leads[0]), part.net(spec.leads[-1])
        if first is not None and last is not None and self.setting.mains_volts is not None:
            amperes = self.needs(part, spec.current, "current", "the current it draws")
            yield CurrentLoad(part.ref, first, last, amperes)

    def connector(self, part: PartUse, spec: kinds.Connector) -> Iterator[Element]:
        load = self.design.document.site.load
        driven = spec.role in ("loudspeaker", "headphone") and load is not None
        if not driven or not self.setting.loaded or load is None:
            return
        ends = [part.net(contact) for contact in (spec.contacts[0], spec.contacts[-1])]
        if None not in ends and ends[0] != ends[1]:
            yield Resistor(f"{part.ref}.load", ends[0] or "", ends[1] or "", load.impedance)

    # -- transformers --------------------------------------------------------------------------

    def mains_transformer(self, part: PartUse, spec: kinds.MainsTransformer) -> Iterator[Element]:
        if self.setting.mains_volts is None:
            yield from self._windings_at_rest(part, spec)
            return
        primary = spec.primary
        ohms = self.needs(part, primary.resistance, "primary.resistance", "primary resistance")
        a, b = part.net("primary.1"), part.net("primary.2")
        if a is None or b is None:
            raise Missing(
                f"where the primary of {part.ref} is connected",
                ("schematic", part.ref),
                part.subject,
            )
        coils = [Coil(f"{part.ref}.primary", a, b, primary.voltage, ohms)]
        for name, winding in spec.windings.items():
            where = f"windings.{name}"
            resistance = self.needs(
                part, winding.resistance, f"{where}.resistance", f"resistance of its {name} winding"
            )
            turns = winding.no_load or self._open_circuit(part, spec, name, resistance)
            coils += self._sections(part, name, turns, resistance)
        yield Transformer(part.ref, tuple(coils))

    def _windings_at_rest(self, part: PartUse, spec: kinds.MainsTransformer) -> Iterator[Element]:
        """With the mains off a winding is only its resistance (1 ohm where none is given)."""
        for name, winding in spec.windings.items():
            ohms = winding.resistance or tuple(1.0 for _ in winding.voltage)
            for coil in self._sections(part, name, winding.voltage, ohms):
                yield Resistor(coil.name, coil.a, coil.b, coil.ohms)

    def _open_circuit(
        self, part: PartUse, spec: kinds.MainsTransformer, name: str, ohms: tuple[float, ...]
    ) -> tuple[float, ...]:
        """No-load volts of a winding from its nameplate and the resistances.

        With every winding at its rated current the primary loses a part of its voltage, and the
        winding its own drop: E = (V + I R) / (1 - S Rp / Vp^2), S the volt-amperes of all of them.
        """
        winding = spec.windings[name]
        total = spec.rating or 0.0
        if not total:
            for other, each in spec.windings.items():
                amperes = self.needs(
                    part, each.current, f"windings.{other}.current", f"rated current of its {other}"
                )
                # a centre-tapped winding feeds one half at a time
                total += (
                    each.voltage[0] * amperes * (math.sqrt(2.0) if len(each.voltage) == 2 else 1)
                )
        amperes = self.needs(
            part,
            winding.current,
            f"windings.{name}.current",
            f"rated current of its {name} winding",
        )
        share = 1.0 - total * (spec.primary.resistance or 0.0) / spec.primary.voltage**2
        self.data.append(
            Datum(
                f"no-load volts of {part.ref} {name}, worked out from its nameplate", Basis.DERIVED
            )
        )
        return tuple((v + amperes * r) / share for v, r in zip(winding.voltage, ohms, strict=True))

    def _sections(
        self, part: PartUse, name: str, turns: tuple[float, ...], ohms: tuple[float, ...]
    ) -> Iterator[Coil]:
        ends = ["1", "ct", "2"] if len(turns) == 2 else ["1", "2"]
        for at, (a, b) in enumerate(zip(ends, ends[1:], strict=False)):
            one, other = part.net(f"{name}.{a}"), part.net(f"{name}.{b}")
            label = f"{part.ref}.{name}.{at + 1}" if len(turns) == 2 else f"{part.ref}.{name}"
            if one is not None and other is not None and one != other:
                yield Coil(label, one, other, turns[at], ohms[at])

    def output_transformer(self, part: PartUse, spec: kinds.OutputTransformer) -> Iterator[Element]:
        primary, secondary = spec.primary, spec.secondary
        resistance = self.needs(
            part, primary.resistance, "primary.resistance", "primary resistance"
        )
        turns = math.sqrt(primary.impedance)
        halves = 2 if spec.centre_tap else 1
        ohms = resistance if len(resistance) == halves else (sum(resistance) / halves,) * halves
        coils = list(self._sections(part, "primary", (turns / halves,) * halves, ohms))
        if not coils:
            return
        top = math.sqrt(float(secondary.taps[-1]))
        total = secondary.resistance
        if total is None:
            # 5 % of the load is usual copper loss in a secondary (common practice, no source)
            total = 0.05 * float(secondary.taps[-1])
            self.data.append(Datum(f"secondary resistance of {part.ref}", Basis.ASSUMED))
        for low, high in zip(secondary.taps, secondary.taps[1:], strict=False):
            a, b = part.net(f"secondary.{high}"), part.net(f"secondary.{low}")
            share = math.sqrt(float(high)) - math.sqrt(float(low))
            here = f"{part.ref}.secondary.{high}"
            coils.append(
                Coil(
                    here,
                    a if a is not None else f"{part.ref}:tap {high}",
                    b if b is not None else f"{part.ref}:tap {low}",
                    share,
                    total * share / top,
                )
            )
        if primary.inductance is None:
            self.data.append(Datum(f"primary inductance of {part.ref}", Basis.ASSUMED))
        henries = (primary.inductance or MAGNETISING_HENRIES) / halves**2
        yield Transformer(part.ref, tuple(coils), henries)

    # -- tubes ---------------------------------------------------------------------------------

    def tube(self, part: PartUse, spec: kinds.Tube) -> Iterator[Element]:
        kind = part.tube
        if kind is None:
            if self.setting.tubes:
                raise Missing(
                    f"data for tube type {spec.type}, which is not in the library",
                    (*part.path, "type"),
                    part.subject,
                )
            return
        yield from self._heater(part)
        for section in kind.sections:
            pins = {e: part.net(str(pin)) for e, pin in section.electrodes.items()}
            name = part.ref if len(kind.sections) == 1 else f"{part.ref}.{section.number}"
            law = kind.law.get(section.number)
            plate, cathode = pins.get("plate"), self._cathode(part, pins)
            if plate is None or cathode is None or plate == cathode:
                continue
            if section.kind == "diode":
                if law is None:
                    raise Missing(
                        f"perveance of rectifier {spec.type}", (*part.path, "type"), part.subject
                    )
                yield TubeDiode(name, plate, cathode, law.parameters["perveance"])
            elif self.setting.tubes:
                grid = pins.get("grid")
                if law is None or grid is None:
                    raise Missing(
                        f"a model of tube type {spec.type}"
                        if law is None
                        else f"where the grid of {part.ref} is connected",
                        (*part.path, "type"),
                        part.subject,
                    )
                if section.kind == "triode":
                    yield Triode(name, plate, grid, cathode, TriodeLaw(**law.parameters))
                else:
                    screen = pins.get("screen") or plate
                    yield Pentode(name, plate, screen, grid, cathode, PentodeLaw(**law.parameters))

    def _cathode(self, part: PartUse, pins: Mapping[str, str | None]) -> str | None:
        """The cathode's net, or the middle of the filament where there is no cathode."""
        cathode = pins.get("cathode")
        kind = part.tube
        if cathode is not None or kind is None or "filament" not in kind.pins.values():
            return cathode
        ends = self._heated(part)
        return f"{part.ref}:filament" if len(ends) == 2 else (ends[0] if ends else None)

    def _heated(self, part: PartUse) -> list[str]:
        kind = part.tube
        pins = [] if kind is None else [p for p, e in sorted(kind.pins.items()) if e in HEATED]
        return [net for net in (part.net(str(pin)) for pin in pins) if net is not None]

    def _heater(self, part: PartUse) -> Iterator[Element]:
        kind = part.tube
        if kind is None or not kind.heater:
            return
        option = max(kind.heater, key=lambda option: option.volts)
        ohms = option.volts / option.amperes
        taps = [p for p, e in kind.pins.items() if e == "heater_tap"]
        plain = [p for p, e in sorted(kind.pins.items()) if e in HEATED and e != "heater_tap"]
        ends = [part.net(str(pin)) for pin in plain]
        if taps and len(plain) == 2:
            middle = part.net(str(taps[0])) or f"{part.ref}:heater tap"
            halves = [(ends[0], middle), (middle, ends[1])]
        elif len(plain) == 2:
            middle = f"{part.ref}:filament"
            halves = [(ends[0], middle), (middle, ends[1])]
        else:
            return
        for at, (a, b) in enumerate(halves, start=1):
            if a is not None and b is not None and a != b:
                yield Resistor(f"{part.ref}.heater.{at}", a, b, ohms / 2)

    def needs(self, part: PartUse, value: Value | None, key: str, words: str) -> Value:
        """A value that has to be there; its basis is noted when it is a weak one."""
        if value is None:
            raise Missing(f"{words} of {part.ref}", (*part.path, *key.split(".")), part.subject)
        basis = part.spec.basis_of(key.rpartition(".")[2])
        if basis == "assumed":
            self.data.append(Datum(f"{words} of {part.ref}", Basis.ASSUMED))
        return value


_WRITERS = {
    kinds.Resistor: _Writer.resistor,
    kinds.Capacitor: _Writer.capacitor,
    kinds.Choke: _Writer.choke,
    kinds.Diode: _Writer.diode,
    kinds.Led: _Writer.led,
    kinds.Zener: _Writer.zener,
    kinds.Bridge: _Writer.bridge,
    kinds.Fuse: _Writer.fuse,
    kinds.Switch: _Writer.switch,
    kinds.ChassisBond: _Writer.bond,
    kinds.Inlet: _Writer.inlet,
    kinds.Potentiometer: _Writer.potentiometer,
    kinds.Lamp: _Writer.lamp,
    kinds.VoltageSource: _Writer.battery,
    kinds.Transistor: _Writer.transistor,
    kinds.Connector: _Writer.connector,
    kinds.MainsTransformer: _Writer.mains_transformer,
    kinds.OutputTransformer: _Writer.output_transformer,
    kinds.Tube: _Writer.tube,
}

