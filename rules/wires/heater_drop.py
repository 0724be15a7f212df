"""Heater runs that lose too much on their way."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Conductors,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Stages,
    Verdicts,
    Warm,
    cite,
    known,
    limit,
    rated,
    rule,
    volt,
)


@rule(
    title="A heater run loses too much on its way",
    harm=Harm.UNDERPERFORMS,
    why="""
        From pin to pin a heater run carries the current of every tube beyond, and the last tube
        of a chain of thin wire is fed the least. What its own pins get has to be within a tenth
        of the rating; where the winding gives enough, the wire is at fault. Leads of the winding
        itself, and joints, are not counted.
    """,
    sources=[cite("heater-margin"), cite("copper-resistance")],
    states=("warm, mains nominal",),
)
def heater_drop(stages: Stages, conductors: Conductors, warm: Warm) -> Verdicts:
    margin, state = limit("heater-margin"), warm.nominal
    for heater in stages.heaters:
        part, due = heater.part, heater.option.volts
        fed, least = state.rms(heater.a, heater.b), due * (1.0 - margin.figure.value)
        if fed < least:
            continue  # nor would thicker wire help
        lost = [
            known(_lost, conductors, warm, part.ref, side) for side in heater.option.between or ()
        ]
        gaps = [gap for gap in lost if isinstance(gap, Open)]
        if gaps:
            yield Open(part.subject, gaps[0].datum, gaps[0].where)
            continue
        drop = sum(volts for volts in lost if not isinstance(volts, Open))
        value = Figure(fed - drop, "V")
        bound = rated(least, "V", margin.source.text, margin.source.basis, most=False)
        if value.value >= least:
            yield Pass(part.subject, value, bound, state.name, state.rests_on)
            continue
        spare = fed - least
        yield Fail(
            about=part.subject,
            says=f"the heater of {part.ref} gets {volt(value.value)} of the {volt(fed)} it is fed,"
            f" made for {volt(due)}",
            remedy=f"{drop / spare:.2g} times the copper in its run, or a run of its own"
            if spare > 0.0
            else f"a run of its own, and more than {volt(fed)} to feed it",
            value=value,
            limit=bound,
            state=state.name,
            working=(f"{volt(drop)} lost in both conductors",),
            rests_on=state.rests_on,
        )


def _lost(conductors: Conductors, warm: Warm, ref: str, side: tuple[int, ...]) -> float:
    """Volts lost on the way to the pins of one side, the farthest of them."""
    return max(conductors.lost(warm.nominal, f"{ref}.{pin}") for pin in side)
