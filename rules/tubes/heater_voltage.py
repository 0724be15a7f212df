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
    Use,
    Verdicts,
    Warm,
    amp,
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
        higher mains than it was made for gives more still. A heater with a tap is two halves, which
        want the same current: with the tap and one end on the same conductor half of it stays cold.
    """,
    sources=[cite("heater-margin"), cite("tube-ratings")],
    states=("warm, mains nominal",),
)
def heater_voltage(design: Design, stages: Stages, warm: Warm) -> Verdicts:
    margin, state = limit("heater-margin"), warm.nominal
    halves = {part.ref: wrong for part in design.of(kinds.Tube) if (wrong := _halves(part, warm))}
    yield from halves.values()
    fed = {heater.part.ref for heater in stages.heaters} | halves.keys()
    for part in design.of(kinds.Tube):
        pins = part.tube.pins_of("heater") if part.tube is not None and part.ref not in fed else ()
        if pins and all(part.net(str(pin)) is not None for pin in pins):
            datum = f"a way to feed the heater of {part.ref} that its data sheet gives"
            yield Open(part.subject, datum, part.ends_path)
    for heater in (h for h in stages.heaters if h.part.ref not in halves):
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


def _halves(part: Use[kinds.Tube], warm: Warm) -> Fail | None:
    """What is wrong with a tapped heater whose halves carry unlike currents."""
    pins = [*part.tube.pins_of("heater"), *part.tube.pins_of("heater_tap")] if part.tube else []
    if len(pins) < 3 or any(part.net(str(pin)) is None for pin in pins) or part.tube is None:
        return None
    margin, state = limit("heater-margin"), warm.nominal
    names = [f"{part.ref}.heater.{half}" for half in (1, 2)]
    drawn = sorted(state.rms_amperes(n) if state.knows(n) else 0.0 for n in names)
    due = min(option.amperes for option in part.tube.heater)
    if drawn[1] - drawn[0] <= 2.0 * margin.figure.value * due:
        return None
    hot = drawn[1] > due * (1.0 + margin.figure.value)
    return Fail(
        about=part.subject,
        says=f"half of the heater of {part.ref} carries {amp(drawn[1])} and the other half"
        f" {amp(drawn[0])}, made for {amp(due)} each",
        remedy=f"pins {pins[0]} and {pins[1]} on 1 conductor and pin {pins[2]}, the tap, on the"
        " other; or the two ends alone on twice the voltage",
        value=Figure(drawn[0], "A"),
        limit=rated(due, "A", margin.source.text, margin.source.basis, most=False),
        state=state.name,
        rests_on=state.rests_on,
        exceeds=1.0,
        harm=None if hot else Harm.UNDERPERFORMS,
    )
