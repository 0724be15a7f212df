"""Output transformers whose primary has more voltage to the core than its insulation bears."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Datum,
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    States,
    Verdicts,
    cite,
    kinds,
    known,
    rule,
    volt,
)


@rule(
    title="The insulation of an output transformer is rated too low",
    harm=Harm.FAULT_KILLS,
    why="""
        The primary stands at the supply, and each plate swings above it by almost as much again;
        the core is bolted to the chassis and the secondary leads to the loudspeaker. When the
        insulation gives way the supply is on both. Judged are the peak at cold start and that
        under full drive into the load; without a load, or when an overdriven stage lets go, the
        peaks are higher still.
    """,
    sources=[cite("part-rating")],
    states=("cold start, mains high", "warm, mains high", "driven"),
)
def primary_insulation(design: Design, ratings: Ratings, states: States) -> Verdicts:
    for part in design.of(kinds.OutputTransformer):
        nets = sorted({net for end, net in part.ends.items() if end.startswith("primary.")})
        if not nets:
            continue
        rating = known(ratings.stated, part, "insulation", "V", "insulation voltage")
        if isinstance(rating, Open):
            yield rating
            continue
        ground = states.lasting[0].netlist.circuit.ground
        high = max((states.volts(net, ground) for net in nets), key=lambda case: case.value)
        value, rests_on = Figure(high.value, "V"), high.rests_on
        if high.value <= rating.figure.value:
            if not states.driven:
                rests_on += (Datum("idle alone, full drive not known", Basis.ASSUMED),)
            yield Pass(part.subject, value, rating, high.state, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"the primary of {part.ref} has {volt(high.value)} at its peak to the core, insulation"
            f" rated {volt(rating.figure.value)}",
            remedy=f"a transformer insulated for {volt(1.5 * high.value)}: half as much again, for the"
            " peaks of an open load",
            value=value,
            limit=rating,
            state=high.state,
            rests_on=rests_on,
        )
