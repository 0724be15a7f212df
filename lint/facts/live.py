"""Which nets are at mains, on the high-voltage side, or where a hand can touch them."""

from __future__ import annotations

from coldcheck.lint.design import METAL, Design
from coldcheck.lint.graphs.schematic import DC, Body, Schematic
from coldcheck.schemas.parts import Choke, Connector, MainsEntry, MainsTransformer

THROUGH = (Body.FUSE, Body.SWITCH)
"""What stands in a conductor and passes it on."""
HIGH = 30.0
"""Volts rms; IEC 62368-1 Table 4, ES1 limit for ac up to 1 kHz, 42.4 V at the peak (from memory).
A rectifier makes that peak of it, so a winding of less gives less than the 60 V for dc as well."""
CARRIES = DC | {Body.DIODE, Body.TRANSISTOR}
IN_LINE = (Body.FUSE, Body.SWITCH, Body.RESISTOR)
"""What the mains passes on its way to a primary: fuses, switches, an inrush limiter."""


def mains_nets(design: Design, schematic: Schematic) -> frozenset[str]:
    """Nets at mains potential: reached from line or neutral without crossing a winding.

    Through fuses, switches, resistors and chokes, up to what can be touched: a way out there is
    an escape, and does not make mains of all that is grounded.
    """
    starts = {net for part in design.of(MainsEntry) for net in map(part.net, ("L", "N"))} - {None}
    chokes = {part.ref for part in design.of(Choke)}
    touched = touched_nets(design, schematic).keys()
    found, edge = set(), [net for net in starts if net is not None]
    while edge:
        here = edge.pop()
        found.add(here)
        for section in schematic.at(here) if here not in touched else ():
            if section.body in IN_LINE or section.part in chokes:
                edge += [net for net in section.nets if net not in touched and net not in found]
    return frozenset(found)


def touched_nets(design: Design, schematic: Schematic) -> dict[str, str]:
    """Nets a person can touch, and what each is called."""
    touched = {METAL: "the chassis"}
    for part in design.of(Connector):
        if part.spec.role != "power":
            for contact, net in part.ends.items():
                touched.setdefault(net, f"contact {contact} of {part.ref}")
    touched |= {net: f"signal ground ({net})" for net in schematic.ground()}
    for inlet in design.of(MainsEntry):
        earth = inlet.net("PE")
        if earth is not None:
            touched[earth] = f"protective earth ({earth})"
    return touched


def high_nets(design: Design, schematic: Schematic) -> frozenset[str]:
    """Nets fed by a winding above 30 V rms, up to where ground ends them.

    Followed through rectifiers and every other part but amplifying tubes and capacitors, so a
    divider's tap counts too: what is doubtful is treated as live.
    """
    end = schematic.ground() | {METAL}
    high = {
        net
        for part in design.of(MainsTransformer)
        for name, winding in part.spec.windings.items()
        if sum(winding.voltage) > HIGH
        for terminal, net in part.ends.items()
        if terminal.startswith(f"{name}.")
    } - end
    edge = sorted(high)
    while edge:
        for section in schematic.at(edge.pop()):
            part = design.parts[section.part]
            rectifier = part.tube is not None and all(s.kind == "diode" for s in part.tube.sections)
            if section.body in CARRIES or rectifier:
                fresh = set(section.nets) - high - end
                high |= fresh
                edge += sorted(fresh)
    return frozenset(high)
