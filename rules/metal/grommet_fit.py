"""Grommets against their hole, their sheet, and what passes them."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Limit,
    Open,
    Pass,
    Passages,
    Verdicts,
    cite,
    limit,
    metre,
    rated,
    rule,
)


@rule(
    title="A grommet does not fit",
    harm=Harm.FAULT_KILLS,
    why="""
        A grommet in a hole too large falls out, in a sheet too thick its groove does not close,
        and wires that fill its bore push it out: each leaves the bare edge it was to cover.
    """,
    sources=[cite("grommet-fit"), cite("grommet-hole"), cite("bundle-size")],
)
def grommet_fit(passages: Passages) -> Verdicts:
    for hole in passages.holes:
        grommet, drilled = hole.hole.grommet, hole.hole.diameter
        if grommet is None:
            continue
        basis, play = cite("grommet-fit").basis, limit("grommet-hole")
        unknown = [c for c in hole.conductors if c.diameter is None]
        subjects = dict.fromkeys(c.subject for c in unknown)
        for subject in subjects:
            datum = f"the outer diameter of the wire of {subject.name}: a type with a style"
            yield Open(hole.subject, datum, subject.path)
        checks: list[tuple[str, str, float, Limit]] = [
            (
                f"{hole.name} is drilled {metre(drilled)}, its grommet is made for"
                f" {metre(grommet.hole)}",
                f"drill {metre(grommet.hole)}, or take a grommet for {metre(drilled)}",
                abs(drilled - grommet.hole),
                play,
            ),
            (
                f"{hole.name} is in a sheet of {metre(passages.sheet)}, the groove of its grommet"
                f" takes {metre(grommet.groove)}",
                f"a grommet with a groove of {metre(passages.sheet)} or a little more",
                passages.sheet,
                rated(grommet.groove, "m", "groove of the grommet", basis),
            ),
        ]
        bundle = hole.bundle
        if bundle is not None:
            checks.append(
                (
                    f"{hole.name} passes a bundle of {metre(bundle)}, its grommet has a bore of"
                    f" {metre(grommet.bore)}",
                    f"a bore of {metre(bundle)} or more, or a second hole",
                    bundle,
                    rated(grommet.bore, "m", "bore of the grommet", basis),
                )
            )
        fits = bundle is not None
        for says, remedy, value, most in checks:
            if value <= most.figure.value * (1.0 + 1e-9):
                continue
            fits = False
            yield Fail(
                about=hole.subject,
                says=says,
                remedy=remedy,
                value=Figure(value, "m"),
                limit=most,
                working=tuple(f"{c.name}: {metre(c.diameter or 0.0)}" for c in hole.conductors),
                harm=None if hole.live else Harm.WEARS,
            )
        if fits:
            yield Pass(about=hole.subject)
