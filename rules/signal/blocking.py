"""Stages that stay blocked after an overload."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    FullDrive,
    GridLeaks,
    Harm,
    Pass,
    Stages,
    Verdicts,
    Warm,
    cite,
    farad,
    kinds,
    limit,
    ohm,
    rule,
    seconds,
    volt,
)


@rule(
    title="A stage stays blocked after an overload",
    harm=Harm.UNDERPERFORMS,
    why="""
        Driven past its cathode a grid rectifies, and charges its coupling capacitor until the stage
        is biased far beyond what it was made for. When the overload is over the charge leaks away
        through the grid leak, and until it has the music is gated or choked. The larger capacitor
        and grid leak are, the longer; a stopper of some tens of kilohms makes the charge smaller.
    """,
    sources=[cite("blocking"), cite("blocked")],
    states=("driven to twice clipping, mains high",),
)
def blocking(
    design: Design, stages: Stages, leaks: GridLeaks, warm: Warm, full: FullDrive
) -> Verdicts:
    most, shifted = limit("blocking"), limit("blocked").figure.value
    for stage in stages.amplifying:
        values = {}
        for ref in leaks.couplings.get(stage.name, ()):
            spec = design.parts[ref].spec
            if isinstance(spec, kinds.Capacitor):
                values[ref] = spec.value
        leak, about = leaks.ohms.get(stage.name, math.inf), stage.part.subject
        if stage.grid is None or not values or math.isinf(leak):
            continue  # a grid without a leak is another rule's
        ref = max(values, key=lambda one: (values[one], one))
        lasts = Figure(values[ref] * leak, "s")
        if lasts.value <= most.figure.value:
            yield Pass(about, lasts, most, rests_on=leaks.rests_on)
            continue
        if not warm.high.knows(stage.name):
            continue
        driven, idle = full.high.beyond, warm.high.over(stage.grid, stage.cathode)
        bias = driven.over(stage.grid, stage.cathode)
        if abs(bias) <= (1.0 + shifted) * abs(idle):
            yield Pass(about, lasts, None, driven.name, full.rests_on)
            continue
        yield Fail(
            about=about,
            says=f"{stage.name} stays blocked for {seconds(lasts.value)} after an overload, until"
            f" {ref} has lost its charge by {ohm(leak)}",
            remedy=f"{farad(most.figure.value / leak)} for {ref}, or as much less of a grid leak",
            value=lasts,
            limit=most,
            state=driven.name,
            working=(f"biased {volt(bias)} instead of {volt(idle)} at twice clipping",),
            rests_on=full.rests_on,
        )
