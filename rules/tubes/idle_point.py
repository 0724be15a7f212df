"""Stages that idle too near one end of what their load allows."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Limit,
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

FED = 5.0
"""Volts on a plate below which there is no supply to speak of (our choice)."""


@rule(
    title="A stage idles too near one end of its range",
    harm=Harm.UNDERPERFORMS,
    why="""
        Between its supply and its cathode a resistor-loaded tube and its plate resistor share the
        voltage. With too little left on the tube, the plate can swing down no more; with nearly
        all of it, it can swing up no more, and clips early to that side. A grid that stands at its
        cathode draws current from what feeds it and clips the upper half of any signal.
    """,
    sources=[cite("idle-share"), cite("idle-grid"), cite("idle-current")],
    states=("warm, mains nominal",),
)
def idle_point(design: Design, schematic: Schematic, stages: Stages, warm: Warm) -> Verdicts:
    low, high, bias = limit("idle-share-least"), limit("idle-share-most"), limit("idle-grid")
    state = warm.nominal
    for stage in stages.amplifying:
        if (
            state.mean_amperes(stage.name) < limit("idle-current").figure.value
            or state.over(stage.plate, stage.cathode) < FED
        ):
            continue  # cut off, or not fed, which are other rules'
        # a megohm or more to the grid may be there for the bias its own current makes
        fed = [s for s in schematic.at(stage.grid or "") if s.body.value == "resistor"]
        ohms = [getattr(design.parts[s.part].spec, "value", 0.0) for s in fed]
        held = Figure(state.over(stage.grid or stage.cathode, stage.cathode), "V")
        judged: list[tuple[Figure, Limit, str, str]] = []
        if held.value > bias.figure.value and max(ohms, default=0.0) < 2.2e6:
            says = f"the grid of {stage.name} stands at {volt(held.value)} to its cathode"
            judged.append((held, bias, says, "a cathode resistor, or bias, of 1 V at the least"))
        supply = max((state.volts(net) for net in _supplies(schematic, stage.plate)), default=None)
        cathode, plate = state.volts(stage.cathode), state.volts(stage.plate)
        if supply is not None and supply - plate > 1.0:
            share = Figure((plate - cathode) / (supply - cathode), "x")
            left = f"{stage.name} idles with {volt(plate - cathode)} of {volt(supply - cathode)}"
            remedy = "a cathode resistor or plate resistor that leaves 40 to 75 % of it on the tube"
            if share.value < low.figure.value and not judged:
                judged.append((share, low, f"{left} on it, near saturation", remedy))
            elif share.value > high.figure.value:
                judged.append((share, high, f"{left} on it, near cut-off", remedy))
            elif not judged:
                yield Pass(stage.part.subject, share, low, state.name, state.rests_on)
        for value, bound, says, remedy in judged:
            yield Fail(
                about=stage.part.subject,
                says=says,
                remedy=remedy,
                value=value,
                limit=bound,
                state=state.name,
                rests_on=state.rests_on,
                exceeds=1.0,
            )


def _supplies(schematic: Schematic, plate: str) -> set[str]:
    """Nets behind one resistor from a plate; none where a winding feeds it as well."""
    here = schematic.at(plate)
    if any(section.body.value == "coil" for section in here):
        return set()
    return {n for s in here if s.body.value == "resistor" for n in s.nets} - {plate}
