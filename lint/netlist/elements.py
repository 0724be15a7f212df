"""Every kind of part as circuit elements; the larger kinds have modules beside this one.

Element names follow references: "R4", "T1.ht.1" (a coil), "V1" or "V1.2" (a tube section),
"V1.heater.1", "S1.1-2".
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from coldcheck.lint.design import METAL, Design, PartUse
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.netlist import semiconductors, tubes, windings
from coldcheck.lint.physics.circuit import (
    Capacitor,
    Element,
    Inductor,
    Resistor,
    Saturation,
    Source,
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
# A choke far past its saturation has one part in three of its inductance left (assumed: with a gap
# it sinks slowly).
CHOKE_LEFT = 3.0
# Neutral is earthed at the supply (TN systems, IEC 60364-1, from memory) through about an ohm; our
# choice: it carries next to nothing, whatever it is.
NEUTRAL_OHMS = 1.0


def running_position(switch: kinds.Switch) -> str:
    """The position in which a switch joins the most; the last such when several do."""
    best = max(len(pairs) for pairs in switch.positions.values())
    return [name for name, pairs in switch.positions.items() if len(pairs) == best][-1]


class Writer:
    """Writes the elements of a design's parts, and notes what they rest on."""

    def __init__(self, design: Design, setting: Setting, ground: str) -> None:
        self.design = design
        self.setting = setting
        self.ground = ground
        self.data: list[Datum] = []
        self.core_data: list[Datum] = []

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
        if not self.setting.open_ends:
            return part
        gone = {end for end in part.ends if f"{part.ref}.{end}" in self.setting.open_ends}
        return replace(part, ends={end: net for end, net in part.ends.items() if end not in gone})

    def _part(self, part: PartUse) -> Iterator[Element]:
        for write in _writers(type(part.spec)):
            yield from write(self, part, part.spec)

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
            bend = None
            if spec.saturation is not None:
                amperes = self.needs(part, spec.saturation, "saturation", "saturation current")
                # In the middle of the bend the current that is drawn, i, gains 1 + (3 - 1) / 2 on
                # the one that stands for the flux: half the inductance is left, where i is still
                # all but the knee's.
                bend = Saturation(amperes, spec.inductance / CHOKE_LEFT)
                what = f"inductance {part.ref} has left past its saturation"
                self.core_data.append(Datum(what, Basis.ASSUMED))
            yield Inductor(part.ref, nets[0], nets[1], spec.inductance, ohms, bend)

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

    def mains(self, part: PartUse, spec: kinds.MainsEntry) -> Iterator[Element]:
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
        left = 0.5 if spec.setting is None else spec.setting
        share = self.setting.wipers.get(part.ref, left)
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
            ohms = spec.voltage / spec.current
            if self.setting.cold:
                ohms /= fact("fuses", "lamp_inrush_least_ratio").value
            yield Resistor(part.ref, nets[0], nets[1], ohms)

    def thermistor(self, part: PartUse, spec: kinds.Thermistor) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            ohms = spec.cold
            if not self.setting.cold and self.setting.mains_volts is not None:
                ohms = self.needs(part, spec.hot, "hot", "resistance, when hot,")
            yield Resistor(part.ref, nets[0], nets[1], ohms)

    def battery(self, part: PartUse, spec: kinds.VoltageSource) -> Iterator[Element]:
        if (nets := self.nets(part)) is not None:
            inner = f"{part.ref}:inner"
            yield Source(part.ref, inner, nets[1], dc=spec.voltage)
            yield Resistor(f"{part.ref}.ohms", inner, nets[0], spec.resistance)

    def connector(self, part: PartUse, spec: kinds.Connector) -> Iterator[Element]:
        load = self.design.document.site.load
        driven = spec.role in ("loudspeaker", "headphone") and load is not None
        if not driven or not self.setting.loaded or load is None:
            return
        ends = [part.net(contact) for contact in (spec.contacts[0], spec.contacts[-1])]
        if None not in ends and ends[0] != ends[1]:
            yield Resistor(f"{part.ref}.load", ends[0] or "", ends[1] or "", load.impedance)

    def needs(self, part: PartUse, value: Value | None, key: str, words: str) -> Value:
        """A value that has to be there; its basis is noted when it is a weak one."""
        if value is None:
            raise Missing(f"{words} of {part.ref}", (*part.path, *key.split(".")), part.subject)
        basis = part.spec.basis_of(key.rpartition(".")[2])
        if basis == "assumed":
            self.data.append(Datum(f"{words} of {part.ref}", Basis.ASSUMED))
        return value

    def need_all(self, part: PartUse, *wanted: tuple[str, float | None, str]) -> list[float]:
        """Values that all have to be there, as (key, value, words); Missing names those that lack."""
        lacking = [(key, words) for key, value, words in wanted if value is None]
        if lacking:
            words = ", ".join(words for _key, words in lacking)
            raise Missing(f"{words} of {part.ref}", (*part.path, lacking[0][0]), part.subject)
        return [self.needs(part, value, key, words) for key, value, words in wanted]


_WRITERS: dict[type[kinds.Part], Callable[..., Iterator[Element]]] = {
    kinds.Resistor: Writer.resistor,
    kinds.Capacitor: Writer.capacitor,
    kinds.Choke: Writer.choke,
    kinds.Diode: semiconductors.diode,
    kinds.Led: semiconductors.led,
    kinds.Zener: semiconductors.zener,
    kinds.Bridge: semiconductors.bridge,
    kinds.Fuse: Writer.fuse,
    kinds.Switch: Writer.switch,
    kinds.ChassisBond: Writer.bond,
    kinds.MainsEntry: Writer.mains,
    kinds.Potentiometer: Writer.potentiometer,
    kinds.Lamp: Writer.lamp,
    kinds.Thermistor: Writer.thermistor,
    kinds.VoltageSource: Writer.battery,
    kinds.Transistor: semiconductors.black_box,
    kinds.BipolarTransistor: semiconductors.bipolar,
    kinds.Mosfet: semiconductors.mosfet,
    kinds.Regulator: semiconductors.regulator,
    kinds.Connector: Writer.connector,
    kinds.MainsTransformer: windings.mains_transformer,
    kinds.OutputTransformer: windings.output_transformer,
    kinds.Tube: tubes.tube,
}


@functools.cache
def _writers(kind: type[kinds.Part]) -> tuple[Callable[..., Iterator[Element]], ...]:
    return tuple(write for known, write in _WRITERS.items() if issubclass(kind, known))
