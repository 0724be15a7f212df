"""Conductors that go through metal where no hole is."""

from __future__ import annotations

from coldcheck.lint.rulekit import Fail, Harm, Open, Pass, Passages, Subject, Verdicts, cite, rule


@rule(
    title="A conductor goes through the metal without a hole",
    harm=Harm.FAULT_KILLS,
    why="""
        A wire from a part on top to a point inside has to pass the sheet somewhere. A hole that
        is not on the drilling plan gets drilled later, next to parts and with swarf among the
        wiring, and is the one that gets no grommet. Those at mains, or fed by a winding above 30 V, come first.
    """,
    sources=[cite("plan-before-drilling"), cite("grommet-rule")],
)
def missing_hole(passages: Passages) -> Verdicts:
    for part in passages.unplaced:
        yield Open(part.subject, f"the place of {part.ref}", ("layout",))
    without: dict[Subject, list[str]] = {}
    for conductor in passages.without_hole:
        without.setdefault(conductor.subject, []).append(conductor.name)
    live = {conductor.subject for conductor in passages.without_hole if conductor.live}
    for subject, names in without.items():
        wire = subject.kind == "wire"
        short = (name.removeprefix(f"{subject.name} ").removesuffix(" lead") for name in names)
        leads = ", ".join(short)
        yield Fail(
            about=subject,
            says=f"{subject.name} passes the metal by no hole"
            + ("" if wire else f": {len(names)} of its leads ({leads})"),
            remedy="name 1 of [holes], with a grommet, in its "
            + ("through" if wire else "leads_through in [layout]"),
            harm=None if subject in live else Harm.WEARS,
        )
    for hole in passages.holes:
        yield Pass(about=hole.subject)
