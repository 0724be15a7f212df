"""Grids that stand far above a cold cathode at switch-on."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Fail,
    Figure,
    Harm,
    Pass,
    Stages,
    Verdicts,
    WarmUp,
    amp,
    cite,
    limit,
    ohm,
    rule,
    volt,
)


@rule(
    title="A grid stands far above its cold cathode",
    harm=Harm.WEARS,
    why="""
        A grid joined straight to a plate is at the full supply until the tube before it draws,
        while its own cathode is still at ground. Then it arcs to the cathode, or takes what
        emission there is and is heated by it. A diode or a neon lamp from grid to cathode holds
        it down; a large resistor in series keeps the current to what a grid bears.
    """,
    sources=[cite("cold-cathode-grid")],
    states=("cold start, mains high", "the first of the emission, mains high"),
)
def cold_cathode_grid(stages: Stages, cold: ColdStart, warm_up: WarmUp) -> Verdicts:
    above, bears, steady = limit("cold-grid-volts"), limit("cold-grid-current"), cold.steady
    for stage in stages.amplifying:
        tube = stage.part.tube
        if stage.grid is None or tube is None or tube.directly_heated:
            continue  # a filament is hot before anything else
        name, grid, cathode = stage.name, stage.grid, stage.cathode
        if not (steady.has(grid) and steady.has(cathode)):
            continue
        volts, state = steady.over(grid, cathode), steady
        if volts > above.figure.value and warm_up.slow(stage.plate):
            # what feeds it comes up with the cathodes: at switch-on there is nothing yet
            state = max(warm_up.states, key=lambda s: s.over(grid, cathode))
            volts = state.over(grid, cathode)
        value = Figure(volts, "V")
        if volts <= above.figure.value:
            yield Pass(stage.part.subject, value, above, state.name, state.rests_on)
            continue
        when = max(warm_up.states, key=lambda s: s.grid_amperes(name))
        taken = when.grid_amperes(name)
        current = Figure(taken, "A")
        if taken <= bears.figure.value:
            yield Pass(stage.part.subject, current, bears, when.name, when.rests_on)
            continue
        yield Fail(
            about=stage.part.subject,
            says=f"the grid of {stage.name} stands {volt(value.value)} above its cold cathode and"
            f" takes {amp(taken)} as that warms",
            remedy=f"a diode or neon lamp from {grid} to {cathode}, or"
            f" {ohm(value.value / bears.figure.value)} ahead of the grid",
            value=current,
            limit=bears,
            state=when.name,
            working=tuple(
                f"{s.name}: {volt(s.over(grid, cathode))} above it, {amp(s.grid_amperes(name))}"
                for s in warm_up.states
            ),
            rests_on=when.rests_on,
        )
