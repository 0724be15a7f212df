"""Amplifiers that hold a loudspeaker less firmly than is claimed."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Signal,
    Verdicts,
    cite,
    ohm,
    rated,
    rule,
)


@rule(
    title="Less damping than is claimed",
    harm=Harm.UNDERPERFORMS,
    why="""
        What is behind the output sets how firmly a loudspeaker is held: its impedance rises several
        times at its resonance, and with a pentode and no feedback the level rises with it. Some
        like it so; practice varies, and a low figure is no fault. One that is claimed and not there
        is. At 1 kHz, with no signal, the load off; copper of the transformer is in it, leads are not.
    """,
    sources=[cite("damping-factor")],
    states=("warm, mains nominal",),
)
def claimed_damping(design: Design, signal: Signal) -> Verdicts:
    claims, load = design.document.claims, design.document.site.load
    if claims is None or claims.damping is None or load is None:
        return
    least = rated(claims.damping, "x", "the claim", Basis.DECLARED, most=False)
    for output in signal.outputs:
        if output.load is None:
            continue
        about, behind = design.parts[output.ref].subject, signal.output_ohms(output)
        factor = Figure(load.impedance / behind, "x")
        if factor.value >= claims.damping:
            yield Pass(about, factor, least, signal.state.name, signal.rests_on)
            continue
        yield Fail(
            about=about,
            says=f"behind {output.ref} are {ohm(behind)}: {factor.value:.2g} times damping, and"
            f" {claims.damping:g} is claimed",
            remedy=f"{claims.damping / factor.value:.2g} times less behind it: that much more"
            f" feedback from the output, or a claim of {factor.value:.2g}",
            value=factor,
            limit=least,
            state=signal.state.name,
            rests_on=signal.rests_on,
        )
