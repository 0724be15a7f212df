"""Which nets are at mains, on the high-voltage side, or where a hand can touch them."""

from __future__ import annotations

from coldcheck.lint.design import METAL, Design
from coldcheck.lint.graphs.schematic import DC, Body, Schematic
from coldcheck.schemas.parts import Connector, Inlet, MainsTransformer

THROUGH = (Body.FUSE, Body.SWITCH)
"""What stands in a conductor and passes it on."""
HIGH = 60.0
"""Volts; IEC 62368-1 Table 4, ES1 limit for dc (as restated by testers)."""
CARRIES = DC | {Body.DIODE}


def mains_nets(design: Design, schematic: Schematic) -> frozenset[str]:
    """Nets at mains potential: reached from line or neutral without crossing a winding."""
    starts = [net for part in design.of(Inlet) for net in map(part.net, ("L", "N"))]
    return frozenset(
        net
        for start in starts
        if start is not None
        for net in schematic.reach(start, lambda section: section.body in THROUGH)
    )


def touched_nets(design: Design, schematic: Schematic) -> dict[str, str]:
    """Nets a person can touch, and what each is called."""
    touched = {METAL: "the chassis"}
    for part in design.of(Connector):
        if isinstance(part.spec, Connector) and part.spec.role != "power":
            for contact, net in part.ends.items():
                touched.setdefault(net, f"contact {contact} of {part.ref}")
    touched |= {net: f"signal ground ({net})" for net in schematic.ground()}
    for inlet in design.of(Inlet):
        earth = inlet.net("PE")
        if earth is not None:
            touched[earth] = f"protective earth ({earth})"
    return touched


def high_nets(design: Design, schematic: Schematic) -> frozenset[str]:
    """Nets fed by a winding above 60 V, up to where ground ends them.

    Followed through rectifiers and every other part but amplifying tubes and capacitors, so a
    divider's tap counts too: what is doubtful is treated as live.
    """
    end = schematic.ground() | {METAL}
    high = {
        net
        for part in design.of(MainsTransformer)
        for name, winding in part.spec.windings.items()
        if max(winding.voltage) > HIGH
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
