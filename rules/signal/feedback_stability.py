"""Feedback loops that are near to oscillating."""

from __future__ import annotations

from collections.abc import Iterable

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Limit,
    Open,
    Pass,
    Signal,
    Verdicts,
    cite,
    figure,
    limit,
    rule,
)

LESS = (1.3, 1.6, 2.0, 3.0, 5.0, 10.0)
"""By how much the branch that carries the feedback is weakened in search of a remedy; ours."""
LOADS = {"connected": "as loaded", "open": "with nothing connected", "capacitive": "into 0.1 uF"}
LEAST = {"deg": "phase-margin", "dB": "gain-margin"}
BAND = 1000.0
"""Hertz that part the two ends of the band; our choice."""


Margin = tuple[float, Figure, Limit, str]
"""What there is over the least there may be, the two of them, and where that is."""


@rule(
    title="A feedback loop is near to oscillating",
    harm=Harm.UNDERPERFORMS,
    why="""
        Coupling capacitors and the output transformer turn the phase below the band, the leakage
        of the transformer and the tubes' capacitances above it. Where that makes half a turn while
        the loop still has gain the feedback is positive, and the amplifier oscillates; close to it
        every transient rings. Judged with the loudspeaker, without it, and with the capacitance of
        a long cable in its place; above the band only where every figure for it is known.
    """,
    sources=[cite("stability-margin")],
    states=("warm, mains nominal",),
)
def feedback_stability(design: Design, signal: Signal) -> Verdicts:
    gap, state = signal.top_lacks, signal.state.name
    for output in signal.outputs:
        back = signal.overall(output)
        if back is None or back.positive:
            continue  # which is another rule's
        name = " and ".join(back.branch.names)
        ref = back.branch.names[0].partition(".")[0]
        about = design.parts[ref if ref in design.parts else output.ref].subject
        loads = list(LOADS) if output.load is not None else ["connected"]
        if gap is not None:
            yield Open(gap.about or about, gap.datum, gap.where)
            loads = loads[:2]  # in the bass 0.1 uF is nothing
        for top, (share, value, least, at) in _worst(signal.nearness(output, loads)).items():
            rests = signal.top_rests_on if top else signal.rests_on
            if top and gap is not None:
                continue
            if share >= 1.0:
                yield Pass(about, value, least, state, rests)
                continue
            tried = ((times, _worst(signal.nearness(output, loads, times))) for times in LESS)
            enough = (
                f"{times:.2g} times the resistance of {name}, for less feedback"
                for times, left in tried
                if top not in left or left[top][0] >= 1.0
            )
            yield Fail(
                about=about,
                says=f"the loop by {name} is {figure(value)} from oscillating at {at}"
                if share > 0.0
                else f"the loop by {name} oscillates, or soon will: {-value.value:.3g} dB too much"
                f" at {at}",
                remedy=next(enough, f"the corners around the loop further apart, or no {name}"),
                value=value,
                limit=least,
                state=state,
                working=(f"{abs(back.loop):.2g} times round the loop at 1 kHz",),
                rests_on=rests,
                exceeds=1.0 / max(share, 0.1),
                harm=Harm.WEARS if share <= 0.0 else None,
            )


def _worst(found: Iterable[tuple[str, float, float, str]]) -> dict[bool, Margin]:
    """The least margin below the band (False) and above it (True), where there is one."""
    worst: dict[bool, Margin] = {}
    for load, hertz, left, unit in found:
        least, top = limit(LEAST[unit]), hertz > BAND
        share, at = left / least.figure.value, f"{figure(Figure(hertz, 'Hz'))} {LOADS[load]}"
        if top not in worst or share < worst[top][0]:
            worst[top] = (share, Figure(round(left, 1), unit), least, at)
    return worst
