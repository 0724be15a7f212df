"""Tubes that draw nothing although their heaters are hot."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Pass,
    Schematic,
    Stages,
    Verdicts,
    Warm,
    cite,
    limit,
    rule,
    volt,
)


@rule(
    title="A tube draws no current",
    harm=Harm.UNDERPERFORMS,
    why="""
        No plate current at idle means no supply on the plate, far too much bias, or pins
        exchanged. It passes no signal, and what its plate feeds stands at the full supply.
    """,
    sources=[cite("idle-current")],
    states=("warm, mains nominal",),
)
def cut_off(schematic: Schematic, stages: Stages, warm: Warm) -> Verdicts:
    least, state = limit("idle-current"), warm.nominal
    ground = schematic.ground() | {schematic.metal}
    for stage in stages.amplifying:
        if stage.grid is None or not schematic.drains(stage.cathode, stage.part.ref) & ground:
            continue  # a cathode that leads nowhere is another rule's
        # of its plate alone: a screen goes on drawing when the plate has no supply
        drawn = Figure(round(state.mean_amperes(stage.name), 9), "A")
        if drawn.value >= least.figure.value:
            yield Pass(stage.part.subject, drawn, least, state.name, state.rests_on)
            continue
        plate = state.between(stage.plate, stage.cathode).mean()
        bias = state.between(stage.grid, stage.cathode).mean()
        yield Fail(
            about=stage.part.subject,
            says=f"{stage.name} draws no current: {volt(plate)} on its plate, grid at {volt(bias)},"
            " both to its cathode",
            remedy=f"a supply for {stage.plate}, where its plate is, or less bias than"
            f" {volt(-bias)}; or pins put right, its grid being on {stage.grid} and its cathode on"
            f" {stage.cathode}",
            value=drawn,
            limit=least,
            state=state.name,
            rests_on=state.rests_on,
        )
