"""Closed rings of ground conductors."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Datum,
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    SignalGround,
    Verdicts,
    cite,
    limit,
    rule,
    volt,
)

LEAST_AREA = 1e-4
"""Square metres: below it two places on the metal, and a straight line between them, are no area
that could be told from a layout (our choice)."""


@rule(
    title="Ground conductors form a closed loop",
    harm=Harm.UNDERPERFORMS,
    why="""
        A loop of ground conductors is a turn of a transformer: the stray field of the mains
        transformer drives a current round it, and its voltage adds to the signal as hum. Metal
        that a part touches by its own mounting closes loops nobody drew.
    """,
    sources=[cite("ground-loop"), cite("stray-field"), cite("one-chassis-link")],
)
def loop(design: Design, ground: SignalGround) -> Verdicts:
    field, frequency = limit("stray-field").figure.value, design.document.site.mains.frequency
    for ring in ground.loops:
        cut = ring.weakest
        working = [link.reads for link in ring.links]
        value, size = None, "of a size not known"
        if ring.area is None:
            working.append(f"area not known: no place in [layout] for {', '.join(ring.unplaced)}")
        elif ring.area < LEAST_AREA:
            size = "as wide as its wires run off the straight"
            working.append("less than 1 cm2 if its wires lie straight along the metal")
        else:
            induced = 2.0 * math.pi * frequency * field * ring.area
            size = f"of {ring.area * 1e4:.0f} cm2"
            value = Figure(induced, "V")
            working.append(
                f"{ring.area * 1e4:.0f} cm2 in an assumed stray field of 1 uT at {frequency:g} Hz:"
                f" {volt(induced)} round the loop"
            )
        hardware = cut.wire is None
        remedy = {
            "mounting": f"break it at {cut.reads}: insulate {cut.subject.name} from the metal,"
            " or move the ground wires to a lug that is no mounting foot",
            "bond": f"break it at {cut.reads}: keep 1 link from signal ground to the chassis",
        }.get(cut.joint.value, f"break it at {cut.reads}: 1 way to ground is enough")
        yield Fail(
            about=cut.subject,
            says=f"{cut.subject.name} closes a loop {size} with"
            f" {', '.join(ring.names(apart=cut)) or 'itself'}",
            remedy=remedy if hardware else f"take {cut.name} out: 1 way to ground is enough",
            value=value,
            others=tuple(dict.fromkeys(k.subject for k in ring.links if k.subject != cut.subject)),
            working=tuple(working),
            rests_on=(Datum("the stray field of 1 uT", limit("stray-field").source.basis),),
        )
    if ground.nets and not ground.loops:
        yield Pass(about=design.net_subject(min(ground.nets)))
