"""Signal ground that reaches the chassis only through something that gives way in a fault."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Schematic, Verdicts, cite, rule


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
        parts = [s for s in way if not isinstance(s, str) and s.body.value != "metal"]
        gaps = [s for s in parts if s.body.value in ("resistor", "switch", "fuse")]
        bare = [s for s in gaps if not _bridged(schematic, s.nets)]
        if not bare:
            yield Pass(about=design.net_subject(net))
            continue
        part, across = design.parts[bare[0].part], bare[0].nets
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is all that joins {net}, signal ground, to the chassis",
            remedy=f"2 diodes across {part.ref} between {' and '.join(across)}, one each way,"
            " that outlast the fuse (common practice: a bridge of 25 A or more)",
            others=(design.net_subject(net),),
        )


def _bridged(schematic: Schematic, nets: tuple[str, ...]) -> bool:
    """Whether diodes lead from either net to the other."""
    return all(_forward(schematic, a, b) for a, b in (nets, nets[::-1]))


def _forward(schematic: Schematic, start: str, goal: str) -> bool:
    seen, edge = {start}, [start]
    while edge:
        here = edge.pop()
        for section in schematic.at(here):
            if section.body.value == "diode" and section.nets[0] == here:
                fresh = set(section.nets) - seen
                seen |= fresh
                edge += sorted(fresh)
    return goal in seen
