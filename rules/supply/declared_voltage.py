"""Supply voltages that are not what the designer expects."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Subject,
    Verdicts,
    Warm,
    cite,
    limit,
    rule,
    volt,
)


@rule(
    title="A voltage is not what the designer expects",
    harm=Harm.UNDERPERFORMS,
    why="""
        What is written beside a net decided the resistors and ratings around it. When the computed
        voltage is far off, one of the two is wrong: the arithmetic, a value, or the transformer's
        data.
    """,
    sources=[cite("declared"), cite("declared-margin")],
    states=("warm, mains nominal",),
)
def declared_voltage(design: Design, warm: Warm) -> Verdicts:
    most, state = limit("declared-margin"), warm.nominal
    for net, expected in design.document.expect.items():
        about = Subject("net", net, ("expect", net))
        if not state.has(net):
            yield Open(about, f"a part that gives {net} a voltage", ("expect", net))
            continue
        found = state.volts(net)
        off = Figure(abs(found - expected) / max(abs(expected), 1.0), "%")
        if off.value <= most.figure.value:
            yield Pass(about, off, most, state.name, state.rests_on)
            continue
        yield Fail(
            about=about,
            says=f"{net} comes to {volt(found)}, expected {volt(expected)}",
            remedy=f"check the transformer and the resistors that feed it, or expect {volt(found)}",
            value=off,
            limit=most,
            state=state.name,
            rests_on=state.rests_on,
        )
