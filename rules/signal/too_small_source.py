"""Amplifiers that their source cannot drive to full power."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    LevelPlan,
    Pass,
    Verdicts,
    cite,
    limit,
    rule,
    volt,
)


@rule(
    title="The source is too small for full power",
    harm=Harm.UNDERPERFORMS,
    why="""
        Each stage multiplies the source's volts, and with the volume turned all the way up what
        arrives at the output is what there is. An amplifier that takes more than its source gives
        plays quietly with every control at its end, and wants a preamplifier. Taken is the sine
        that just clips the output.
    """,
    sources=[cite("source-spare")],
    states=("driven to clipping, mains nominal",),
)
def too_small_source(design: Design, plan: LevelPlan) -> Verdicts:
    if design.document.project.duty == "preamplifier":
        return  # its full level is nobody's aim
    least = limit("source-spare")
    spare, state, rests = Figure(plan.spare, "x"), plan.state, plan.rests_on
    if plan.spare >= least.figure.value:
        yield Pass(design.subject, spare, least, state, rests)
        return
    wanted, given = volt(plan.sensitivity), volt(plan.level)
    yield Fail(
        about=design.subject,
        says=f"this amplifier needs a preamplifier: it takes {wanted} for full power and the"
        f" source gives {given}",
        remedy=f"a preamplifier with a gain of {1.0 / plan.spare:.2g}, or as much more gain in it",
        value=spare,
        limit=least,
        state=state,
        working=(f"{given} at the input with the volume turned up",),
        rests_on=rests,
    )
