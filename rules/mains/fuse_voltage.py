"""Fuses made for less voltage than they have to break."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Design,
    Fail,
    Figure,
    Fuses,
    Harm,
    MainsSide,
    Open,
    Pass,
    Ratings,
    Verdicts,
    cite,
    kinds,
    known,
    rule,
    volt,
    weak,
)


@rule(
    title="A fuse is rated below the voltage it breaks",
    harm=Harm.FAULT_KILLS,
    why="""
        When a fuse opens, the whole voltage stands across the gap, and above its rating the arc
        may not go out. A dc arc is the worse: a 250 V ac fuse in an HT line of 400 V can burn on.
    """,
    sources=[cite("part-rating"), cite("fuse-arc")],
    states=("mains nominal, or cold start with mains high on the HT side",),
)
def fuse_voltage(
    design: Design, fuses: Fuses, mains: MainsSide, ratings: Ratings, cold: ColdStart
) -> Verdicts:
    for part in fuses.all:
        rating = known(ratings.stated, part, "voltage", "V", "voltage rating")
        if isinstance(rating, Open):
            yield rating
            continue
        if set(part.ends.values()) & mains.nets:
            volts, state = design.document.site.mains.voltage, "mains nominal"
        else:
            volts, state = _opened(design, cold, frozenset(part.ends.values())), cold.name
        rests_on = cold.rests_on + weak(rating, f"the voltage rating of {part.ref}")
        value = Figure(volts, "V")
        if volts <= rating.figure.value:
            yield Pass(part.subject, value, rating, state, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is rated {volt(rating.figure.value)} and has {volt(volts)} to break",
            remedy=f"a fuse rated {volt(volts)} or more, or one in the ac side of the rectifier",
            value=value,
            limit=rating,
            state=state,
            rests_on=rests_on,
        )


def _opened(design: Design, cold: ColdStart, nets: frozenset[str]) -> float:
    """What can stand across a fuse: its nets to ground, or the winding it is the return of."""
    ground = cold.steady.netlist.circuit.ground
    found = [abs(cold.net_volts(net, ground)) for net in nets]
    for part in design.of(kinds.MainsTransformer):
        for name, winding in part.spec.windings.items():
            ends = [part.net(end) for end in part.spec.terminals() if end.startswith(f"{name}.")]
            if len(winding.voltage) == 2 and nets & {ends[1]} and ends[0] is not None:
                found.append(abs(cold.net_volts(ends[0], ends[1] or ground)))
    return max(found)
