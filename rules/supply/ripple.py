"""Amplifiers whose supply hums through to the output."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Ripple,
    Verdicts,
    allowed_hum,
    cite,
    rule,
    volt,
)


@rule(
    title="The supply hums through to the output",
    harm=Harm.UNDERPERFORMS,
    why="""
        What ripple smoothing leaves comes by the plate, the screen or the bias, and each stage
        amplifies what came before it. A push-pull stage cancels most, a single-ended pentode a
        little, a single-ended triode hardly any. Only the supply's ripple is counted here, with no
        signal and the volume midway; stray fields and heater hum add to it.
    """,
    sources=[cite("hum-loudspeaker"), cite("hum-line")],
    states=("warm, mains nominal",),
)
def ripple(design: Design, ripple: Ripple) -> Verdicts:
    state = ripple.state
    for output in ripple.outputs:
        part = design.parts[output.ref]
        most = allowed_hum(design, part.ref)
        heard = Figure(ripple.volts(output), "V")
        if heard.value <= most.figure.value:
            yield Pass(part.subject, heard, most, state.name, ripple.rests_on)
            continue
        way, times = ripple.way(output), heard.value / most.figure.value
        remedy = f"{times:.2g} times the smoothing of every node"
        working: tuple[str, ...] = ()
        if way is not None:
            net, left = way
            remedy = f"{times:.2g} times the capacitance at {net}"
            remedy += f", {' and '.join(ripple.capacitors(net))}, or the resistance ahead of it"
            working = (
                f"{net} ripples by {volt(state.ripple(net))} peak to peak",
                f"held still it would leave {left:.0%}",
            )
        yield Fail(
            about=part.subject,
            says=f"{output.ref} hums by {volt(heard.value)} of the supply's ripple, more than"
            f" {volt(most.figure.value)}",
            remedy=remedy,
            value=heard,
            limit=most,
            state=state.name,
            working=working,
            rests_on=ripple.rests_on,
        )
