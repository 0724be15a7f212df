"""Tubes as circuit elements: each section by its law, each heater as a resistance."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from coldcheck.lint.design import PartUse
from coldcheck.lint.graphs.schematic import HEATED, electrode_net
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.physics.circuit import (
    Element,
    GlowTube,
    Pentode,
    PentodeLaw,
    Resistor,
    Triode,
    TriodeLaw,
    TubeDiode,
)
from coldcheck.schemas import parts as kinds
from coldcheck.schemas.reference import fact

if TYPE_CHECKING:
    from coldcheck.lint.netlist.elements import Writer

# Slope of a gas-filled regulator: 2 V over 5 to 30 mA is usual (from memory).
REGULATOR_OHMS = 80.0
# What a gas-filled regulator strikes at, over what it holds, where its sheet is not known: 185 V
# over 150 V, 133 V over 108 V (from memory).
STRIKES = 1.25


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


def tube(writer: Writer, part: PartUse, spec: kinds.Tube) -> Iterator[Element]:
    kind = part.tube
    if kind is None:
        if writer.setting.tubes:
            raise Missing(
                f"data for tube type {spec.type}, which is not in the library",
                (*part.path, "type"),
                part.subject,
            )
        return
    yield from _heater(writer, part)
    for section in kind.sections:
        number = section.number
        name = section_name(part, number)
        plate, cathode = electrode_net(part, "plate", number), cathode_net(part, number)
        if section.kind == "regulator":
            yield from _glow(writer, part, name)
            continue
        if plate is None or cathode is None or plate == cathode:
            continue
        law = kind.law.get(number)
        if section.kind != "diode" and not writer.setting.tubes:
            continue
        if law is None:
            what = "perveance" if section.kind == "diode" else "a model"
            raise Missing(f"{what} of tube type {spec.type}", (*part.path, "type"), part.subject)
        if Basis(law.basis).weak:
            writer.data.append(Datum(f"the model of tube type {spec.type}", Basis(law.basis)))
        emission = 1.0 if kind.directly_heated else writer.setting.emission
        if section.kind == "diode":
            perveance = emission * law.parameters["perveance"]
            yield TubeDiode(name, plate, cathode, perveance)
            continue
        grid = electrode_net(part, "grid", number)
        if grid is None:
            raise Missing(f"where the grid of {name} is connected", part.ends_path, part.subject)
        if section.kind == "triode":
            triode = TriodeLaw(**law.parameters)
            yield Triode(name, plate, grid, cathode, triode._replace(kg1=triode.kg1 / emission))
        else:
            screen = electrode_net(part, "screen", number) or plate
            pentode = PentodeLaw(**law.parameters)
            fewer = {"kg1": pentode.kg1 / emission, "kg2": pentode.kg2 / emission}
            yield Pentode(name, plate, screen, grid, cathode, pentode._replace(**fewer))


def _glow(writer: Writer, part: PartUse, name: str) -> Iterator[Element]:
    """A gas-filled tube works from the first: it has no heater to wait for."""
    anode, cathode = electrode_net(part, "anode", 1), electrode_net(part, "cathode", 1)
    kind = part.tube
    volts = kind.limit("regulated_volts") if kind is not None else None
    if kind is None or volts is None or anode is None or cathode is None or anode == cathode:
        return
    writer.data.append(Datum(f"slope resistance of {part.ref}", Basis.ASSUMED))
    strikes = kind.limit("starting_volts")
    basis = Basis(strikes.basis) if strikes is not None else Basis.ASSUMED
    if basis.weak:
        writer.data.append(Datum(f"the voltage at which {part.ref} strikes", basis))
    starting = strikes.value if strikes is not None else STRIKES * volts.value
    yield GlowTube(name, anode, cathode, volts.value, REGULATOR_OHMS, starting)


def _heater(writer: Writer, part: PartUse) -> Iterator[Element]:
    kind = part.tube
    if kind is None or not kind.heater:
        return
    option = max(kind.heater, key=lambda option: option.volts)
    ohms = option.volts / option.amperes
    if writer.setting.cold:
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
