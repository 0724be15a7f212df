"""Feedback loops that are near to oscillating."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

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


class Margin(NamedTuple):
    """One margin against the least of its kind; ``share`` of 1 is just enough."""

    share: float
    value: Figure
    least: Limit
    hertz: float
    load: str


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
        about = design.parts[back.branch.names[0].partition(".")[0]].subject
        loads = list(LOADS) if output.load is not None else ["connected"]
        if gap is not None:
            yield Open(gap.about or about, gap.datum, gap.where)
            loads = loads[:2]  # in the bass 0.1 uF is nothing
        for top, worst in _worst(signal.nearness(output, loads)).items():
            rests = signal.top_rests_on if top else signal.rests_on
            if top and gap is not None:
                continue
            if worst.share >= 1.0:
                yield Pass(about, worst.value, worst.least, state, rests)
                continue
            at = f"{figure(Figure(worst.hertz, 'Hz'))} {LOADS[worst.load]}"
            tried = ((times, _worst(signal.nearness(output, loads, times))) for times in LESS)
            enough = (
                f"{times:.2g} times the resistance of {name}, for less feedback"
                for times, left in tried
                if top not in left or left[top].share >= 1.0
            )
            yield Fail(
                about=about,
                says=f"the loop by {name} is {figure(worst.value)} from oscillating at {at}"
                if worst.share > 0.0
                else f"the loop by {name} oscillates, or soon will: {-worst.value.value:.3g} dB too"
                f" much at {at}",
                remedy=next(enough, f"the corners around the loop further apart, or no {name}"),
                value=worst.value,
                limit=worst.least,
                state=state,
                working=(f"{abs(back.loop):.2g} times round the loop at 1 kHz",),
                rests_on=rests,
                exceeds=1.0 / max(worst.share, 0.1),
                harm=Harm.WEARS if worst.share <= 0.0 else None,
            )


def _worst(found: Iterable[tuple[str, float, float, str]]) -> dict[bool, Margin]:
    """The least margin below the band (False) and above it (True), where there is one."""
    worst: dict[bool, Margin] = {}
    for load, hertz, left, unit in found:
        least, top = limit(LEAST[unit]), hertz > BAND
        one = Margin(left / least.figure.value, Figure(round(left, 1), unit), least, hertz, load)
        if top not in worst or one.share < worst[top].share:
            worst[top] = one
    return worst
