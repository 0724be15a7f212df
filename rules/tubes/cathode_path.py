"""Cathodes that hang on a capacitor alone."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Schematic, Verdicts, cite, rule


@rule(
    title="A cathode has no dc path to ground",
    harm=Harm.UNDERPERFORMS,
    why="""
        What the plate draws has to come from somewhere: through a cathode resistor, a current
        source or another tube. Without such a path the tube is cut off. Drawn so, it is most often
        two pins exchanged, the grid's and the cathode's.
    """,
    sources=[cite("cathode-return")],
)
def cathode_path(design: Design, schematic: Schematic) -> Verdicts:
    ground = schematic.ground() | {schematic.metal}
    if not schematic.ground() & design.nets.keys():
        return  # with no electrolytic there is no telling which net is ground
    for part in design.parts.values():
        for electrode in schematic.electrodes(part):
            if electrode.name != "cathode" or electrode.net is None:
                continue
            reached = schematic.drains(electrode.net, part.ref)
            # the other half of the same bulb may stand below: a cascode, a follower on a source
            below = {e.net for e in schematic.electrodes(part) if e.name == "plate"}
            if reached & (ground | below):
                yield Pass(about=part.subject)
                continue
            several = part.tube is not None and len(part.tube.sections) > 1
            which = f"cathode {electrode.section}" if several else "cathode"
            yield Fail(
                about=part.subject,
                says=f"{part.ref} {which} (pin {electrode.pins[0]}, net {electrode.net}) has no dc"
                " path to ground, so the tube draws nothing",
                remedy=f"1 cathode resistor from {electrode.net} to ground; or, if pins were"
                f" exchanged, pin {electrode.pins[0]} on the net that has one",
            )
