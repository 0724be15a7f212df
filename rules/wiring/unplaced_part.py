"""Parts that need a hole in the metal and have no place on it."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Verdicts, cite, rule

MOUNTED = (
    "mains transformer",
    "output transformer",
    "choke",
    "tube",
    "inlet",
    "cord",
    "fuse",
    "switch",
    "connector",
    "potentiometer",
    "terminal strip",
    "ground bus",
    "chassis bond",
)


@rule(
    title="A part that is mounted on the metal has no place",
    harm=Harm.UNTIDY,
    why="""
        A part without a place is drilled for last, where room is left. Loops through it have no
        area, and wires to it no length.
    """,
    sources=[cite("plan-before-drilling")],
)
def unplaced_part(design: Design) -> Verdicts:
    for part in design.parts.values() if design.document.layout else ():
        kind = part.spec.kind
        if kind not in MOUNTED:
            continue
        if part.seat is not None:
            yield Pass(about=part.subject)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref}, a {kind}, has no place in [layout]",
            remedy=f"{part.ref} = {{ at = [60, 40] }} in [layout], with its own millimetres",
        )
