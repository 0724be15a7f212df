"""Regulators that let go when the mains is low."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Datum,
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Verdicts,
    Warm,
    cite,
    kinds,
    limit,
    rule,
    volt,
)


@rule(
    title="A regulator lets go when the mains is low",
    harm=Harm.UNDERPERFORMS,
    why="""
        A regulator needs some volts between input and output, in the trough of the ripple and with
        the mains at its lowest. Below that it is a wire: hum comes through in every trough, as
        bursts that no filter behind it takes for ripple.
    """,
    sources=[cite("part-rating"), cite("dropout")],
    states=("warm, mains low",),
)
def regulator_headroom(design: Design, warm: Warm) -> Verdicts:
    usual = limit("dropout")
    for part in design.of(kinds.Regulator):
        state = warm.low
        if not state.knows(part.ref):
            continue
        raw, held = part.ends["input"], part.ends["output"]
        if part.spec.voltage < 0.0:
            raw, held = held, raw
        left = Figure(state.least(raw, held), "V")
        stated = part.spec.dropout
        bound = usual
        if stated is not None:
            bound = usual._replace(figure=Figure(stated, "V"), source=cite("part-rating"))
        rests_on = state.rests_on
        if stated is None:
            rests_on += (Datum(f"the dropout voltage of {part.ref}", Basis.MEMORY),)
        # at the edge it holds a little less than its dropout, not more
        if left.value > bound.figure.value * 1.001:
            yield Pass(part.subject, left, bound, state.name, rests_on)
            continue
        short = bound.figure.value - left.value + 1.0
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is left {volt(left.value)} between input and output, and needs"
            f" {volt(bound.figure.value)}",
            remedy=f"{volt(short)} more ahead of it, or a larger reservoir against the ripple there",
            value=left,
            limit=bound,
            state=state.name,
            rests_on=rests_on,
        )
