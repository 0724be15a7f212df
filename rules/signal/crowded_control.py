"""Volume controls that are at full power hardly opened."""

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
    kinds,
    limit,
    ohm,
    rule,
    volt,
)


@rule(
    title="Full power comes at the very beginning of the volume control",
    harm=Harm.UNDERPERFORMS,
    why="""
        Where the source gives many times what full power takes, all of the listening is done in
        the first few degrees: there a track is at its least exact, the two halves of a ganged one
        differ most, and the rest of the turn only overdrives. A track of audio taper is taken to
        have 15 % of its resistance at half its turn.
    """,
    sources=[cite("crowded-control"), cite("audio-taper")],
    states=("driven to clipping, mains nominal",),
)
def crowded_control(design: Design, plan: LevelPlan) -> Verdicts:
    if design.document.project.duty == "preamplifier" or plan.place is None:
        return
    least, half = limit("crowded-control"), limit("audio-taper").figure.value
    for ref in plan.controls:
        part = design.parts[ref]
        assert isinstance(part.spec, kinds.Potentiometer)
        middle = half if part.spec.taper == "audio" else 0.5
        share = plan.place
        turn = (
            0.5 * share / middle if share < middle else 1.0 - 0.5 * (1.0 - share) / (1.0 - middle)
        )
        turned = Figure(turn, "%")
        if turn >= least.figure.value:
            yield Pass(part.subject, turned, least, plan.state, plan.rests_on)
            continue
        more = (middle / share - 1.0) * part.spec.value
        yield Fail(
            about=part.subject,
            says=f"full power comes at {turn:.0%} of the turn of {ref}: {volt(plan.sensitivity)} is"
            f" enough, and the source gives {volt(plan.level)}",
            remedy=f"about {ohm(more)} in series with the upper end of {ref}, for full power at"
            " half its turn",
            value=turned,
            limit=least,
            state=plan.state,
            working=(f"{share:.1%} of its resistance",),
            rests_on=plan.rests_on,
        )
