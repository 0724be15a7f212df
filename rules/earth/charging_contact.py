"""Contacts of connectors that jump while the capacitor behind them charges."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Verdicts,
    cite,
    kinds,
    limit,
    rule,
    volt,
)


@rule(
    title="A contact of a connector jumps at switch-on",
    harm=Harm.FAULT_KILLS,
    why="""
        At switch-on a coupling capacitor is empty, and a contact behind it rises with the supply
        until it is charged, by way of whatever is plugged in: a hand, an ear, the next input. A
        drain resistor ends it sooner and does not make it smaller. It passes in a fraction of a
        second, and so is not ranked with a contact that stays live. Judged over the first
        cycles with the tubes cold; what comes while they warm is slower and smaller.
    """,
    sources=[cite("touch-voltage")],
    states=("cold start, mains high",),
)
def charging_contact(design: Design, cold: ColdStart) -> Verdicts:
    most, state = limit("touch-voltage"), cold.steady
    ground = state.netlist.circuit.ground
    for part in design.of(kinds.Connector):
        for contact, net in part.ends.items() if part.spec.role != "power" else ():
            if not state.has(net) or state.floats(net):
                continue
            settled = abs(state.peak(net, ground))
            if settled > most.figure.value:
                continue  # it is live, and stays so
            value = Figure(round(abs(cold.net_volts(net, ground)), 1), "V")
            if value.value <= most.figure.value:
                yield Pass(part.subject, value, most, cold.name, cold.rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"{part.ref}.{contact} jumps to {volt(value.value)} at switch-on, and settles"
                f" at {volt(settled)}",
                remedy=f"a contact that holds {part.ref}.{contact} at ground for the first 30 s, or a"
                " supply that comes up with its tubes",
                value=value,
                limit=most,
                state=cold.name,
                rests_on=cold.rests_on,
            )
