"""Every kind of part as circuit elements; transformers are in :mod:`coldcheck.lint.netlist.windings`.

Element names follow references: "R4", "T1.ht.1" (a coil), "V1" or "V1.2" (a tube section),
"V1.heater.1", "S1.1-2".
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from coldcheck.lint.design import METAL, Design, PartUse
from coldcheck.lint.graphs.schematic import HEATED, electrode_net
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.netlist import windings
from coldcheck.lint.physics.circuit import (
    Capacitor,
    CurrentLoad,
    Element,
    Inductor,
    Pentode,
    PentodeLaw,
    Resistor,
    SiliconDiode,
    Source,
    Triode,
    TriodeLaw,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.schemas import parts as kinds
from coldcheck.schemas.reference import fact, fuse_item

if TYPE_CHECKING:
    from coldcheck.lint.netlist import Setting

Value = TypeVar("Value")

# Contact resistance of a closed switch or fresh bond: small beside any winding.  Our choice; a
# switch data sheet allows 10 to 50 milliohm (from memory).
CONTACT_OHMS = 0.01
# A fuse of a rating the library has no cold resistance for; a 1 A time-lag fuse has 0.1 ohm.
FUSE_OHMS = 0.1
# Silicon rectifier: the SPICE parameters commonly published for the 1N4007 class (from memory):
# saturation current 7.03 nA, emission coefficient 1.808 (times 25.85 mV at 27 degC), 34 milliohm.
SILICON = (7.03e-9, 1.808 * 0.02585, 0.034)
# Neutral is earthed at the supply (TN systems, IEC 60364-1, from memory) through about an ohm; our
# choice: it carries next to nothing, whatever it is.
NEUTRAL_OHMS = 1.0
# Slope of an LED's exponential: emission coefficient 2 times 25.85 mV (from memory).
LED_SLOPE = 2 * 0.02585
LED_OHMS = 2.0
# Slope of a gas-filled regulator: 2 V over 5 to 30 mA is usual (from memory).
REGULATOR_OHMS = 80.0
# A zener's slope resistance where the document gives none (assumed).
ZENER_OHMS = 10.0


def running_position(switch: kinds.Switch) -> str:
    """The position in which a switch joins the most; the last such when several do."""
    best = max(len(pairs) for pairs in switch.positions.values())
    return [name for name, pairs in switch.positions.items() if len(pairs) == best][-1]


def section_name(part: PartUse, number: int) -> str:
    """The element a tube section is: "V1", or "V1.2" where a bulb holds several."""
    several = part.tube is not None and len(part.tube.sections) > 1
    return f"{part.ref}.{number}" if several else part.ref


def cathode_net(part: PartUse, number: int) -> str | None:
    """The cathode's net, or the middle of the filament where there is no cathode."""
    found = electrode_net(part, "cathode", number) or electrode_net(part, "heater_cathode", number)
    if found is not None or part.tube is None or not part.tube.directly_heated:
        return found
    ends = [part.net(str(pin)) for pin, e in sorted(part.tube.pins.items()) if e in HEATED]
    known = [net for net in ends if net is not None]
    return f"{part.ref}:filament" if len(known) == 2 else (known[0] if known else None)


class Writer:
    """Writes the elements of a design's parts, and notes what they rest on."""

    def __init__(self, design: Design, setting: Setting, ground: str) -> None:
        self.design = design
        self.setting = setting
        self.ground = ground
        self.data: list[Datum] = []

    def elements(self) -> Iterator[Element]:
        """Every part's elements; raises Missing that names what all parts together lack."""
        gaps: list[Missing] = []
        for part in self.design.parts.values():
            if part.ref not in self.setting.open_parts:
                try:
                    yield from self._part(self._as_joined(part))
                except Missing as gap:
                    gaps.append(gap)
        if gaps:
            data = "; ".join(dict.fromkeys(gap.datum for gap in gaps))
            raise Missing(data, gaps[0].where, gaps[0].about)
        for at, (a, b) in enumerate(self.setting.shorted):
            yield Resistor(f"short {at}", a, b, 1e-3)

    def _as_joined(self, part: PartUse) -> PartUse:
        """The part without the terminals that the setting has come off."""
        gone = {end for end in part.ends if f"{part.ref}.{end}" in self.setting.open_ends}
        if not gone:
            return part
        return replace(part, ends={end: net for end, net in part.ends.items() if end not in gone})

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
            ohms = self.needs(part, spec.resistance, "resistance", "the winding resistance")
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
            item = fuse_item(spec.standard, spec.sheet, spec.current, spec.speed, spec.breaking)
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
        if self.setting.mains_volts is None:
            return  # with the plug out neutral is earthed no more, and drains nothing
        if neutral != METAL:
            yield Resistor(f"{part.ref}.N", neutral, self.ground, NEUTRAL_OHMS)
        peak = self.setting.mains_volts * math.sqrt(2.0)
        yield Source(f"{part.ref}.L", line, neutral, peak=peak)

    def potentiometer(self, part: PartUse, spec: kinds.Potentiometer) -> Iterator[Element]:
        share = self.setting.wipers.get(part.ref, 0.5)
        if part.net("wiper") is None:  # its track still joins what is at its ends
            track = part.net("ccw"), part.net("cw")
            if None not in track and track[0] != track[1]:
                yield Resistor(f"{part.ref}.ccw", track[0] or "", track[1] or "", spec.value)
            return
        for a, b, part_of_it in (("ccw", "wiper", share), ("wiper", "cw", 1.0 - share)):
            one, other = part.net(a), part.net(b)
            if one is not None and other is not None and one != other:
                yield Resistor(f"{part.ref}.{a}", one, other, spec.value * part_of_it)

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
            number = section.number
            name = section_name(part, number)
            plate, cathode = electrode_net(part, "plate", number), cathode_net(part, number)
            if section.kind == "regulator":
                yield from self._regulator(part, name)
                continue
            if plate is None or cathode is None or plate == cathode:
                continue
            law = kind.law.get(number)
            if section.kind != "diode" and not self.setting.tubes:
                continue
            if law is None:
                what = "perveance" if section.kind == "diode" else "a model"
                raise Missing(
                    f"{what} of tube type {spec.type}", (*part.path, "type"), part.subject
                )
            if Basis(law.basis).weak:
                self.data.append(Datum(f"the model of tube type {spec.type}", Basis(law.basis)))
            emission = 1.0 if kind.directly_heated else self.setting.emission
            if section.kind == "diode":
                perveance = emission * law.parameters["perveance"]
                yield TubeDiode(name, plate, cathode, perveance)
                continue
            grid = electrode_net(part, "grid", number)
            if grid is None:
                raise Missing(
                    f"where the grid of {name} is connected", part.ends_path, part.subject
                )
            if section.kind == "triode":
                triode = TriodeLaw(**law.parameters)
                yield Triode(name, plate, grid, cathode, triode._replace(kg1=triode.kg1 / emission))
            else:
                screen = electrode_net(part, "screen", number) or plate
                pentode = PentodeLaw(**law.parameters)
                fewer = {"kg1": pentode.kg1 / emission, "kg2": pentode.kg2 / emission}
                yield Pentode(name, plate, screen, grid, cathode, pentode._replace(**fewer))

    def _regulator(self, part: PartUse, name: str) -> Iterator[Element]:
        """A gas-filled tube holds its voltage from the first: it has no heater to wait for."""
        anode, cathode = electrode_net(part, "anode", 1), electrode_net(part, "cathode", 1)
        volts = part.tube.limit("regulated_volts") if part.tube is not None else None
        if anode is not None and cathode is not None and volts is not None:
            self.data.append(Datum(f"slope resistance of {part.ref}", Basis.ASSUMED))
            yield ZenerDiode(name, cathode, anode, volts.value, REGULATOR_OHMS)

    def _heater(self, part: PartUse) -> Iterator[Element]:
        kind = part.tube
        if kind is None or not kind.heater:
            return
        option = max(kind.heater, key=lambda option: option.volts)
        ohms = option.volts / option.amperes
        if self.setting.heaters_cold:
            ohms /= fact("fuses", "heater_inrush_least_ratio").value
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
    kinds.Resistor: Writer.resistor,
    kinds.Capacitor: Writer.capacitor,
    kinds.Choke: Writer.choke,
    kinds.Diode: Writer.diode,
    kinds.Led: Writer.led,
    kinds.Zener: Writer.zener,
    kinds.Bridge: Writer.bridge,
    kinds.Fuse: Writer.fuse,
    kinds.Switch: Writer.switch,
    kinds.ChassisBond: Writer.bond,
    kinds.Inlet: Writer.inlet,
    kinds.Potentiometer: Writer.potentiometer,
    kinds.Lamp: Writer.lamp,
    kinds.VoltageSource: Writer.battery,
    kinds.Transistor: Writer.transistor,
    kinds.Connector: Writer.connector,
    kinds.MainsTransformer: windings.mains_transformer,
    kinds.OutputTransformer: windings.output_transformer,
    kinds.Tube: Writer.tube,
}
