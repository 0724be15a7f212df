"""Heaters fed too high or too low."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Stages,
    Verdicts,
    Warm,
    cite,
    kinds,
    limit,
    rated,
    rule,
    volt,
)


@rule(
    title="A heater is not fed its voltage",
    harm=Harm.WEARS,
    why="""
        Too high, the cathode's coating evaporates; too low, it is poisoned and the tube goes weak.
        A winding that is lightly loaded gives more than its nameplate says, and one fed from a
        higher mains than it was made for gives more still.
    """,
    sources=[cite("heater-margin"), cite("tube-ratings")],
    states=("warm, mains nominal",),
)
def heater_voltage(design: Design, stages: Stages, warm: Warm) -> Verdicts:
    margin, state = limit("heater-margin"), warm.nominal
    fed = {heater.part.ref for heater in stages.heaters}
    for part in design.of(kinds.Tube):
        pins = part.tube.pins_of("heater") if part.tube is not None and part.ref not in fed else ()
        if pins and all(part.net(str(pin)) is not None for pin in pins):
            datum = f"a way to feed the heater of {part.ref} that its data sheet gives"
            yield Open(part.subject, datum, part.ends_path)
    for heater in stages.heaters:
        part, due = heater.part, heater.option.volts
        # below a millivolt the solver is heard
        found = round(state.rms(heater.a, heater.b), 3)
        over = found > due
        edge = due * (1.0 + (1.0 if over else -1.0) * margin.figure.value)
        bound = rated(edge, "V", margin.source.text, margin.source.basis, most=over)
        value = Figure(found, "V")
        if abs(found - due) <= margin.figure.value * due:
            yield Pass(part.subject, value, bound, state.name, state.rests_on)
            continue
        amperes = heater.option.amperes
        yield Fail(
            about=part.subject,
            says=f"the heater of {part.ref} gets {volt(found)}, made for {volt(due)}",
            remedy=f"a resistor of {(found - due) / amperes:.2g} ohm in series with it"
            if over
            else f"a winding or wiring that gives it {volt(due)} at {amperes:.3g} A",
            value=value,
            limit=bound,
            state=state.name,
            rests_on=state.rests_on,
            harm=None if over else Harm.UNDERPERFORMS,
        )
