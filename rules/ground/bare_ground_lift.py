"""Signal ground that reaches the chassis only through something that gives way in a fault."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Schematic, Verdicts, cite, kinds, rule


@rule(
    title="Nothing carries a fault current past the resistor in the ground link",
    harm=Harm.FAULT_KILLS,
    why="""
        A few ohms between signal ground and chassis break a hum loop. When mains reaches signal
        ground they must not be what limits the current: the resistor burns open and the fuse
        stays whole. Two diodes across it, one each way and rated for the fault current, keep the
        path. A switch alone can simply be left open.
    """,
    sources=[cite("ground-lift")],
)
def bare_ground_lift(design: Design, schematic: Schematic) -> Verdicts:
    solid = schematic.reach(schematic.metal, lambda s: s.body.value == "metal")
    reached = schematic.dc(schematic.metal)
    for net in sorted(schematic.ground() & reached - solid):
        # a winding or another large part may lead there too: what counts is the shortest way
        way = schematic.path(net, schematic.metal, lambda s: s.body in schematic.passes_dc)
        bare = [
            (step.part, across)
            for at, step in enumerate(way)
            if not isinstance(step, str) and step.body.value != "metal"
            # the nets before and after it: a potentiometer has a third
            if not _bridged(design, schematic, *(across := (str(way[at - 1]), str(way[at + 1]))))
        ]
        if not bare:
            yield Pass(about=design.net_subject(net))
            continue
        ref, across = bare[0]
        part = design.parts[ref]
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is all that joins {net}, signal ground, to the chassis",
            remedy=f"2 diodes across {part.ref} between {' and '.join(across)}, one each way,"
            " that outlast the fuse (common practice: a bridge of 25 A or more)",
            others=(design.net_subject(net),),
        )


def _bridged(design: Design, schematic: Schematic, a: str, b: str) -> bool:
    """Whether rectifier diodes lead from either net to the other: LEDs and zeners burn open."""
    return _forward(design, schematic, a, b) and _forward(design, schematic, b, a)


def _forward(design: Design, schematic: Schematic, start: str, goal: str) -> bool:
    rectifiers = {part.ref for part in design.of(kinds.Diode, kinds.Bridge)}
    seen, edge = {start}, [start]
    while edge:
        here = edge.pop()
        for section in schematic.at(here):
            if section.part in rectifiers and section.nets[0] == here:
                fresh = set(section.nets) - seen
                seen |= fresh
                edge += sorted(fresh)
    return goal in seen
