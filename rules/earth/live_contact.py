"""Contacts of connectors that stand at a voltage nobody may touch."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Schematic,
    Verdicts,
    Warm,
    cite,
    kinds,
    limit,
    rule,
    volt,
)

SHARE = 0.1
"""Of the limit: below it no figure is so wrong as to come to the limit (our choice)."""


@rule(
    title="A contact of a connector is live",
    harm=Harm.KILLS,
    why="""
        A jack is touched, and what is plugged in brings its voltage to a hand somewhere else. High
        voltage may reach a contact through a winding, a resistor or a tube left out; and behind a
        coupling capacitor with nothing to drain it, it waits for the first plug. Power
        connectors are not judged.
    """,
    sources=[cite("touch-voltage"), cite("isolation")],
    states=("cold start, mains high", "warm, mains high"),
)
def live_contact(design: Design, schematic: Schematic, cold: ColdStart, warm: Warm) -> Verdicts:
    most = limit("touch-voltage")
    for part in design.of(kinds.Connector):
        clear = part.spec.role != "power"
        worst, weak = Figure(0.0, "V"), False
        for contact, net in part.ends.items() if clear else ():
            for state in (cold.steady, warm.high):
                if not state.has(net):
                    continue
                behind = ""
                seen = abs(state.peak(net, state.netlist.circuit.ground))
                if state.floats(net):
                    seen, behind = max(_stored(schematic, cold, net), default=(0.0, ""))
                weak = weak or seen > SHARE * most.figure.value
                # below a tenth of a volt the solver is heard
                worst = max(worst, Figure(round(seen, 1), "V"))
                if seen <= most.figure.value:
                    continue
                clear = False
                by = f" by way of {behind}, with no resistor to drain it" if behind else ""
                yield Fail(
                    about=part.subject,
                    says=f"{part.ref}.{contact} stands at {volt(seen)} to ground{by}",
                    remedy=f"a resistor of 220 kohm (common practice) from {net} to ground"
                    if behind
                    else f"a coupling capacitor rated {volt(1.5 * seen)} ahead of it, and behind that"
                    " 220 kohm (common practice) to ground",
                    value=Figure(seen, "V"),
                    limit=most,
                    state=state.name,
                    rests_on=state.rests_on,
                    harm=Harm.FAULT_KILLS if behind else None,
                )
                break
        if clear and part.ends:
            rests_on = warm.high.rests_on if weak else ()
            yield Pass(part.subject, worst, most, warm.high.name, rests_on)


def _stored(schematic: Schematic, cold: ColdStart, net: str) -> list[tuple[float, str]]:
    """Volts beyond each capacitor that a floating contact hangs on, and its reference."""
    here, state = schematic.dc(net), cold.steady
    return [
        (abs(cold.net_volts(far, state.netlist.circuit.ground)), section.part)
        for near in sorted(here)
        for section in schematic.at(near)
        if section.body.value == "capacitor"
        for far in section.nets
        if far not in here and state.has(far) and not state.floats(far)
    ]
