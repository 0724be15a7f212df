"""Ground buses on which the heavy currents lie between the light ones."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    GroundNetwork,
    Harm,
    Pass,
    Verdicts,
    allowed_hum,
    amp,
    cite,
    limit,
    ohm,
    rule,
    volt,
)

LIGHT = 0.01
"""Of the current of a span a wire that carries less than this is any signal's (our choice)."""


@rule(
    title="A ground bus has its heaviest current among its signals",
    harm=Harm.UNDERPERFORMS,
    why="""
        A bus is short and stout and still not without resistance. What charges the reservoirs
        should enter and leave it at neighbouring points at one end, then come the output stage,
        the drivers and last the input: no signal's return has then another's current in its way.
    """,
    sources=[cite("ground-hum"), cite("shared-return")],
    states=("warm, mains nominal",),
)
def bus_order(design: Design, ground: GroundNetwork) -> Verdicts:
    worst: dict[str, Fail] = {}
    for output in ground.outputs:
        most = allowed_hum(design, output.ref, limit("ground-hum").figure.value, cite("ground-hum"))
        heard = Figure(ground.brought(output, buses=True), "V")
        if heard.value <= most.figure.value:
            yield Pass(
                design.parts[output.ref].subject, heard, most, ground.state.name, ground.rests_on
            )
            continue
        span = ground.most(output, buses=True)
        bus = span.link.subject
        taps = ground.order(bus.name)
        heavy = [f"{name} ({amp(i)})" for name, i in taps if i > LIGHT * span.amperes]
        fail = Fail(
            about=bus,
            says=f"{bus.name} carries {amp(span.amperes)} of the supply's ripple past a signal's"
            f" return, from {span.link.a} to {span.link.b}: {output.ref} hums by"
            f" {volt(heard.value)} more than its ripple",
            remedy="let what charges the reservoirs come and go at neighbouring points of one end:"
            f" {', '.join([*heavy, 'then what returns a signal'])}",
            value=heard,
            limit=most,
            state=ground.state.name,
            others=(design.parts[output.ref].subject,),
            working=(
                f"{amp(span.amperes)} rms through {ohm(span.ohms)} of each span,"
                f" {volt(span.amperes * span.ohms)} along it",
                f"{output.ref} hears {volt(span.heard)} for each volt along it",
            ),
            rests_on=ground.rests_on,
        )
        before = worst.get(bus.name)
        if before is None or before.value is None or heard.value > before.value.value:
            worst[bus.name] = fail
    yield from worst.values()
