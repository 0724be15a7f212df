"""Feedback from the output that adds to the signal instead of taking from it."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Signal,
    Verdicts,
    cite,
    kinds,
    rule,
)


@rule(
    title="The feedback is positive",
    harm=Harm.WEARS,
    why="""
        Feedback from the loudspeaker is negative one way round and positive the other, and which
        it is hangs on two wires of the output transformer. Positive and with a loop gain above one
        the amplifier howls at full power from the moment it is warm, often above hearing, and
        takes the loudspeaker with it. A first test is best made with a resistor for a load.
    """,
    sources=[cite("feedback-sign")],
    states=("warm, mains nominal",),
)
def feedback_sign(design: Design, signal: Signal) -> Verdicts:
    for output in signal.outputs:
        back = signal.overall(output)
        if back is None:
            continue
        name = " and ".join(back.branch.names)
        state, ref = signal.state, back.branch.names[0].partition(".")[0]
        about = design.parts[ref if ref in design.parts else output.ref].subject
        around = Figure(abs(back.loop), "x")
        if not back.positive:
            yield Pass(about, around, None, state.name, signal.rests_on)
            continue
        howls = back.loop.real < -1.0
        yield Fail(
            about=about,
            says=f"{name} leads {output.ref} back in phase, {abs(back.loop):.2g} times round the"
            f" loop: the feedback is positive{', and it oscillates' if howls else ''}",
            remedy=_exchanged(design, {output.a, output.b}),
            value=around,
            state=state.name,
            rests_on=signal.rests_on,
            harm=None if howls else Harm.UNDERPERFORMS,
        )


def _exchanged(design: Design, ends: set[str]) -> str:
    for part in design.of(kinds.OutputTransformer):
        taps = [end for end, net in part.ends.items() if net in ends and "secondary" in end]
        if len(taps) > 1:
            wires = f"exchange the two wires at {' and '.join(taps)} of {part.ref}"
            return f"{wires}, or the two at the outer ends of its primary"
    return "lead it to the other side of the first stage, cathode instead of grid or the reverse"
