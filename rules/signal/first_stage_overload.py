"""Stages ahead of the volume control that their source overdrives."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Fail,
    Figure,
    Harm,
    LevelPlan,
    Pass,
    Verdicts,
    cite,
    rated,
    rule,
    volt,
)


@rule(
    title="The source overdrives a stage ahead of the volume control",
    harm=Harm.UNDERPERFORMS,
    why="""
        What stands ahead of the volume control is given the source's whole level, however low the
        volume. Where the crest of it takes a grid past its bias, the grid draws current and the
        stage clips; turning down does not help.
    """,
    sources=[cite("grid-limit")],
    states=("warm, mains nominal",),
)
def first_stage_overload(plan: LevelPlan) -> Verdicts:
    if not plan.controls:
        return  # the source is turned down instead
    for ahead in plan.ahead:
        stage, peak = ahead.stage.stage, Figure(ahead.peak, "V")
        about, room = stage.part.subject, max(ahead.room, 0.0)
        most = rated(room, "V", f"the bias of {stage.name}", Basis.DERIVED)
        if ahead.peak <= room:
            yield Pass(about, peak, most, "warm, mains nominal", plan.rests_on)
            continue
        yield Fail(
            about=about,
            says=f"the source drives {stage.name} by {volt(ahead.peak)} of peak, its bias being"
            f" {volt(room)}, wherever the volume stands",
            remedy=f"the volume control ahead of {stage.name}, or a divider to"
            f" {room / ahead.peak:.2g} of the source",
            value=peak,
            limit=most,
            state="warm, mains nominal",
            working=(f"{volt(plan.level)} from the source",),
            rests_on=plan.rests_on,
        )
