"""Line and headphone outputs that jump at switch-on, if not so far that it shocks."""

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
    title="An output thumps at switch-on",
    harm=Harm.UNDERPERFORMS,
    why="""
        An output behind a capacitor is carried along by the supply until the capacitor is charged.
        What is plugged in takes it for a signal of several times its full level, and passes it on
        to a loudspeaker or an ear. Judged over the first cycles with the tubes cold; what comes
        while they warm is slower. A jump that may shock is another rule's.
    """,
    sources=[cite("thump"), cite("touch-voltage")],
    states=("cold start, mains high",),
)
def turn_on_thump(design: Design, cold: ColdStart) -> Verdicts:
    most, shock = limit("thump"), limit("touch-voltage").figure.value
    ground = cold.steady.netlist.circuit.ground
    for part in design.of(kinds.Connector):
        nets = {
            net: contact
            for contact, net in part.ends.items()
            if part.spec.role in ("output", "headphone")
            and cold.steady.has(net)
            and not cold.steady.floats(net)
        }
        jumps = {net: round(abs(cold.net_volts(net, ground)), 1) for net in nets}
        if not jumps:
            continue
        net = max(jumps, key=lambda one: (jumps[one], nets[one]))
        value = Figure(jumps[net], "V")
        if value.value > shock:
            continue
        if value.value <= most.figure.value:
            yield Pass(part.subject, value, most, cold.name, cold.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref}.{nets[net]} thumps by {volt(value.value)} at switch-on",
            remedy=f"a contact that holds {part.ref}.{nets[net]} at ground for the first 30 s, or"
            " a cathode follower ahead of it",
            value=value,
            limit=most,
            state=cold.name,
            rests_on=cold.rests_on,
        )
