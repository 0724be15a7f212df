"""Amplifiers that give less power than is claimed for them."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Design,
    Fail,
    Figure,
    FullDrive,
    Harm,
    Pass,
    Verdicts,
    cite,
    limit,
    rated,
    rule,
    watt,
)


@rule(
    title="Less power than is claimed",
    harm=Harm.UNDERPERFORMS,
    why="""
        Power is counted where the first output's sine goes flat, into the site's load taken as a
        resistor, the supply sagging as it does and the mains at its nominal. What the output
        transformer's copper takes is not there for the loudspeaker.
    """,
    sources=[cite("claimed-power")],
    states=("driven to clipping, mains nominal",),
)
def claimed_power(design: Design, full: FullDrive) -> Verdicts:
    claims = design.document.claims
    if claims is None or claims.power is None:
        return
    enough = limit("claimed-power").figure.value * claims.power
    least = rated(enough, "W", "the claim, less a tenth", Basis.DECLARED, most=False)
    clipping = full.nominal.clipping
    for ref, watts in full.nominal.output_watts.items():
        about, given = design.parts[ref].subject, Figure(watts, "W")
        if watts >= enough:
            yield Pass(about, given, least, clipping.name, full.rests_on)
            continue
        volts = (claims.power / watts) ** 0.5
        yield Fail(
            about=about,
            says=f"{ref} is given {watt(watts)} where it begins to clip, and {watt(claims.power)}"
            " is claimed",
            remedy=f"a claim of {watt(watts)}, or output tubes with {volts:.2g} times the swing",
            value=given,
            limit=least,
            state=clipping.name,
            rests_on=full.rests_on,
        )
