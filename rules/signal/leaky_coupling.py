"""Coupling capacitors whose usual leakage moves the bias of the tube they feed."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    GridLeaks,
    Harm,
    Pass,
    Stages,
    Verdicts,
    Warm,
    cite,
    kinds,
    limit,
    ohm,
    rule,
    volt,
)


@rule(
    title="A coupling capacitor leaks more than its tube's bias bears",
    harm=Harm.WEARS,
    why="""
        What leaks through a coupling capacitor flows through the grid leak, makes the grid more
        positive and the tube draw more. Film hardly leaks; paper does once it is old and warm, an
        electrolytic one always. Taken is the leakage that is usual for the dielectric, as the time
        in which the capacitor would discharge itself.
    """,
    sources=[cite("leak-shift"), cite("leak-film"), cite("leak-paper"), cite("leak-electrolytic")],
    states=("warm, mains high",),
)
def leaky_coupling(design: Design, stages: Stages, leaks: GridLeaks, warm: Warm) -> Verdicts:
    most, state = limit("leak-shift"), warm.high
    for stage in stages.amplifying:
        if stage.grid is None or not state.knows(stage.name):
            continue
        bias = abs(state.over(stage.grid, stage.cathode))
        for ref in leaks.couplings.get(stage.name, ()):
            part = design.parts[ref]
            if not isinstance(part.spec, kinds.Capacitor) or bias == 0.0:
                continue
            usual = limit(f"leak-{part.spec.dielectric}")
            insulation, leak = usual.figure.value / part.spec.value, leaks.ohms[stage.name]
            if math.isinf(leak):
                continue  # a grid that hangs on nothing else is another rule's
            a, b = part.ends.values()
            moved = abs(state.over(a, b)) * leak / (insulation + leak)
            share = Figure(moved / bias, "%")
            if share.value <= most.figure.value:
                yield Pass(part.subject, share, most, state.name, state.rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"what leaks through {ref} lifts the grid of {stage.name} by {volt(moved)},"
                f" of {volt(bias)} of bias",
                remedy=f"a film capacitor, or {most.figure.value / share.value:.2g} times the"
                " grid leak",
                value=share,
                limit=most,
                state=state.name,
                working=(
                    f"{ohm(insulation)} is usual for {part.spec.dielectric} of this size",
                    f"{volt(abs(state.over(a, b)))} across it",
                    f"{ohm(leak)} from the grid to ground",
                ),
                rests_on=state.rests_on,
                harm=Harm.UNDERPERFORMS if moved < 0.5 * bias else None,
            )
