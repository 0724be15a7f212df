"""Amplifiers whose causes of hum add up to too much."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    HumBudget,
    Open,
    Pass,
    Verdicts,
    allowed_hum,
    cite,
    rule,
    volt,
)

OTHERS = ("supply ripple", "ground wires", "heater of")
"""How causes begin that have rules of their own, which are heard from first."""


@rule(
    title="All hum together is too much",
    harm=Harm.UNDERPERFORMS,
    why="""
        What the supply leaves, what ground wires add, what transformers induce and what heaters
        leak meet at the loudspeaker. Each may be small enough and the whole not; and the largest
        is the one to work at, whatever is easiest to reach. Causes are added as their squares are,
        since nobody knows how their phases lie.
    """,
    sources=[cite("hum-loudspeaker"), cite("hum-line")],
    states=("warm, mains nominal",),
)
def total(design: Design, hum: HumBudget) -> Verdicts:
    for budget in hum.budgets:
        part = design.parts[budget.output.ref]
        bound = allowed_hum(design, part.ref)
        heard, largest = Figure(budget.volts, "V"), budget.causes[0]
        weak = tuple(dict.fromkeys(d for c in budget.causes for d in c.rests_on))
        if heard.value <= bound.figure.value:
            if hum.lacks:
                gap = hum.lacks[0]
                yield Open(gap.about or part.subject, gap.datum, gap.where)
            else:
                yield Pass(part.subject, heard, bound, hum.state.name, weak)
            continue
        if largest.name.startswith(OTHERS):
            continue
        left = budget.halving
        half = "" if left is None else f"; {left:.0%} of it left would halve the whole"
        yield Fail(
            about=part.subject,
            says=f"{part.ref} hums by {volt(heard.value)} in all, more than"
            f" {volt(bound.figure.value)}; most of it is the {largest.name}",
            remedy=f"{largest.change}: it brings {volt(largest.volts)}{half}",
            value=heard,
            limit=bound,
            state=hum.state.name,
            working=tuple(f"{cause.name}: {volt(cause.volts)}" for cause in budget.causes[:5]),
            rests_on=weak,
        )
