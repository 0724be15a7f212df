"""Amplifiers whose bandwidth falls short of what is claimed for them."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Signal,
    Verdicts,
    cite,
    farad,
    figure,
    kinds,
    rated,
    rule,
)

TIMES = (1.5, 2.0, 3.0, 5.0)
"""By how much parts are enlarged in search of a remedy; our choice."""
TOGETHER = 3
"""Most parts that are enlarged together."""


@rule(
    title="The bandwidth falls short of the claim",
    harm=Harm.UNDERPERFORMS,
    why="""
        Every coupling and cathode capacitor and the inductance of the output transformer take
        something of the bass, every tube's capacitance, multiplied by its gain, and the cable
        something of the treble; what they take adds up. The corner is where half the power is left
        of that at 1 kHz, feedback included. Capacitances of sockets and wiring are not counted.
    """,
    sources=[cite("bandwidth")],
    states=("warm, mains nominal",),
)
def bandwidth(design: Design, signal: Signal) -> Verdicts:
    claims = design.document.claims
    if claims is None or (claims.low is None and claims.high is None):
        return
    state, rests, top = signal.state.name, signal.rests_on, signal.top_rests_on
    gap = signal.top_lacks
    for output in signal.outputs:
        about, found = design.parts[output.ref].subject, signal.band(output)
        if claims.low is not None:
            low, most = Figure(found.low, "Hz"), rated(claims.low, "Hz", "claimed", Basis.DECLARED)
            if found.low <= claims.low:
                yield Pass(about, low, most, state, rests)
            else:
                leans = signal.leans(output, found.low)[:TOGETHER]
                few = (leans[:count] for count in range(1, len(leans) + 1))
                ways = ((names, times) for names in few for times in TIMES)
                fits = (
                    " and ".join(_larger(design, name, times) for name in names)
                    for names, times in ways
                    if signal.band(output, dict.fromkeys(names, times)).low <= claims.low
                )
                remedy = next(fits, f"a claim of {figure(low)}: no one part is the cause")
                says = f"{output.ref} is 3 dB down at {figure(low)} already, {figure(most.figure)} is claimed"
                yield Fail(about, says, remedy, low, most, state, rests_on=rests)
        if claims.high is None:
            continue
        if gap is not None:
            yield Open(gap.about or about, gap.datum, gap.where)
            continue
        high = Figure(min(found.high, 1e8), "Hz")
        least = rated(claims.high, "Hz", "claimed", Basis.DECLARED, most=False)
        if found.high >= claims.high:
            yield Pass(about, high, least, state, top)
            continue
        name, share = signal.leans(output, found.high)[0], found.high / claims.high
        says = f"{output.ref} is 3 dB down at {figure(high)} already, {figure(least.figure)} is claimed"
        remedy = f"{share:.2g} times {name.replace('_', ' to ')}, or the resistance that feeds it"
        yield Fail(about, says, remedy, high, least, state, rests_on=top)


def _larger(design: Design, name: str, times: float) -> str:
    part = design.parts.get(name)
    if part is not None and isinstance(part.spec, kinds.Capacitor):
        return f"{farad(times * part.spec.value)} for {name}"
    return f"{times:.2g} times the inductance of {name}"
