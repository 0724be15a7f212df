"""Chokes ahead of the first capacitor that are too small for the load."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Basis,
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Schematic,
    Stages,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    rated,
    rule,
)

FIRST_FARADS = 0.5e-6
"""Less than this ahead of a choke only quiets its winding (our choice)."""


@rule(
    title="A choke ahead of the first capacitor is too small",
    harm=Harm.UNDERPERFORMS,
    why="""
        A choke-input supply holds its voltage while current flows through the choke without a
        break. Too little inductance for the current drawn, and it stops twice a cycle: the voltage
        climbs towards the peak, hum and the rectifier's current with it. The first part of a
        full-wave ripple is 2/3 of the dc, at twice the mains frequency; its peak has to be less than
        the dc current, and so L at least R / (6 pi f), R being what the load looks like.
    """,
    sources=[cite("critical-inductance")],
    states=("warm, mains nominal",),
)
def choke_inductance(design: Design, schematic: Schematic, stages: Stages, warm: Warm) -> Verdicts:
    state = warm.nominal
    fed = {net for stage in stages.rectifiers for net in stage.outputs}
    for section in schematic.sections.values():
        if section.body.value == "diode":
            fed |= set(section.nets) - schematic.wound
    for part in design.of(kinds.Choke):
        ends = set(part.ends.values())
        inputs = (ends & fed) - schematic.ground()
        if not state.knows(part.ref) or len(ends) != 2 or len(inputs) != 1:
            continue
        first = [c for c in design.of(kinds.Capacitor) if inputs & set(c.ends.values())]
        drawn, far = abs(state.mean_amperes(part.ref)), (ends - inputs).pop()
        if sum(c.spec.value for c in first) >= FIRST_FARADS or drawn < 1e-6:
            continue
        volts = abs(state.volts(far))
        hertz = design.document.site.mains.frequency
        least = volts / drawn / (6.0 * math.pi * hertz)
        bound = rated(least, "H", "R / (6 pi f), for a full-wave rectifier", Basis.DERIVED, False)
        value = Figure(part.spec.inductance, "H")
        # what was computed decides: the formula leaves the winding's resistance out
        if state.least_amperes(part.ref) > 0.0 and value.value >= 0.9 * least:
            yield Pass(part.subject, value, bound, state.name, state.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} of {value.value:.3g} H is too small for {amp(drawn)}: its current"
            f" falls to {amp(state.least_amperes(part.ref))} in every cycle",
            remedy=f"a choke of {1.2 * least:.2g} H or more, or a bleeder that draws"
            f" {amp(1.2 * least / value.value * drawn)} in all",
            value=value,
            limit=bound,
            state=state.name,
            working=(f"{volts:.0f} V / {drawn:.3g} A / (6 pi {hertz:.0f} Hz) = {least:.3g} H",),
            rests_on=state.rests_on,
        )
