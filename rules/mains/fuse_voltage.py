"""Fuses made for less voltage than they have to break."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Design,
    Fail,
    Figure,
    Fuses,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    cite,
    kinds,
    known,
    limit,
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
def fuse_voltage(design: Design, fuses: Fuses, ratings: Ratings, cold: ColdStart) -> Verdicts:
    for part in fuses.all:
        if len(set(part.ends.values())) != 2:
            continue  # a loose end is another rule's
        rating = known(ratings.stated, part, "voltage", "V", "voltage rating")
        if isinstance(rating, Open):
            yield rating
            continue
        nets, rests_on = set(part.ends.values()), weak(rating, f"the voltage rating of {part.ref}")
        if fuses.at_mains(part):
            volts, state = design.document.site.mains.voltage, "mains nominal"
        elif (winding := _winding(design, cold, nets)) is not None:
            volts, state = winding, "mains nominal"
        else:
            ground = cold.steady.netlist.circuit.ground
            volts, state = max(abs(cold.net_volts(net, ground)) for net in nets), cold.name
            rests_on += cold.rests_on
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


def _winding(design: Design, cold: ColdStart, nets: set[str]) -> float | None:
    """The nameplate ac volts behind a fuse that stands at a secondary; None elsewhere."""
    mains, touch = design.document.site.mains.voltage, limit("touch-voltage").figure.value
    own = nets - cold.ground  # ground is not a fuse's own place
    raised = any(abs(cold.steady.volts(net)) > touch for net in own)
    for part in design.of(kinds.MainsTransformer):
        for name, winding in part.spec.windings.items():
            ends = {net for end, net in part.ends.items() if end.startswith(f"{name}.")}
            # with its tap in use each half is a supply of its own; without, they add
            tapped = f"{name}.ct" in part.ends
            volts = winding.voltage.from_zero if tapped else sum(winding.voltage)
            # the filament winding of a rectifier stands at HT, and gives what it stands at
            if ends & own and (volts > touch or not raised):
                primary = part.spec.primary
                # of several sections any may be in use: then the nameplate stands
                return volts * mains / primary.whole if len(primary.voltage) == 1 else volts
    return None
