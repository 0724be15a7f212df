"""Tubes of high transconductance without a stopper resistor at their grid or screen."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    PartUse,
    Pass,
    Schematic,
    Signal,
    Stages,
    Verdicts,
    cite,
    figure,
    kinds,
    limit,
    rule,
)


@rule(
    title="A tube of high transconductance without a stopper",
    harm=Harm.UNDERPERFORMS,
    why="""
        A few inches of wire at a grid and at a plate are tuned circuits at a hundred megahertz or
        so, and a tube that amplifies well is an oscillator between them. It is heard as distortion,
        or not at all but for a bias that moves when a hand comes near. A resistor close to the pin
        spoils the tuned circuit; at a screen it bounds the current of the peaks as well.
    """,
    sources=[cite("stopper")],
    states=("warm, mains nominal",),
)
def missing_stopper(
    design: Design, schematic: Schematic, stages: Stages, signal: Signal
) -> Verdicts:
    most, state = limit("stopper"), signal.state
    for stage in stages.amplifying:
        if stage.grid is None or not state.knows(stage.name):
            continue
        about, grid, screen = stage.part.subject, stage.grid, stage.screen
        steep = Figure(1e3 * signal.transconductance(stage), "mA/V")
        if steep.value <= most.figure.value:
            yield Pass(about, steep, most, state.name, signal.rests_on)
            continue
        others = [e for e in schematic.electrodes(stage.part) if e.name != "grid"]
        bare = []
        if grid not in schematic.ground() and (
            any(electrode.net == grid for electrode in others)
            or not all(
                isinstance(at.spec, kinds.Resistor) for at in _beside(design, stage.part, grid)
            )
        ):
            bare.append(("control grid", grid, "1 kohm"))
        if screen is not None and screen != stage.plate:
            beside = [
                at
                for at in _beside(design, stage.part, screen)
                if not isinstance(at.spec, kinds.Capacitor)
                and (
                    isinstance(at.spec, kinds.Tube)
                    or not schematic.ground() & set(at.ends.values())
                )
            ]
            if len(beside) != 1 or not isinstance(beside[0].spec, kinds.Resistor):
                bare.append(("screen", screen, "100 ohm"))
        if not bare:
            yield Pass(about, steep, None, state.name, signal.rests_on)
        for electrode, net, ohms in bare:
            yield Fail(
                about=about,
                says=f"the {electrode} of {stage.name}, which has {figure(steep)}, is on {net}"
                " without a stopper",
                remedy=f"{ohms} or more between {net} and the pin, at the socket",
                value=steep,
                limit=most,
                state=state.name,
                rests_on=signal.rests_on,
            )


def _beside(design: Design, tube: PartUse, net: str) -> list[PartUse]:
    """The other parts on a net of a tube's."""
    return [design.parts[ref] for ref, _terminal in design.nets[net] if ref != tube.ref]
