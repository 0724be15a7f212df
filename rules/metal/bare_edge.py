"""Conductors in holes with nothing between them and the edge of the metal."""

from __future__ import annotations

from coldcheck.lint.rulekit import Fail, Harm, Pass, Passages, Verdicts, cite, metre, rule


@rule(
    title="Conductors pass a hole with a bare edge",
    harm=Harm.FAULT_KILLS,
    why="""
        The edge of a drilled sheet is a blade. Vibration and a pull on the wire work it through
        the insulation, and the chassis meets the mains or the high voltage. A grommet or a
        bushing costs pennies.
    """,
    sources=[cite("grommet-rule")],
)
def bare_edge(passages: Passages) -> Verdicts:
    for hole in passages.holes:
        if hole.hole.grommet is not None or hole.hole.bushing is not None:
            yield Pass(about=hole.subject)
            continue
        names = [conductor.name for conductor in hole.conductors]
        least = hole.bundle
        bore = "" if least is None else f" with a bore of {metre(least)} or more"
        among = ", the mains among them," if hole.mains else ""
        yield Fail(
            about=hole.subject,
            says=f"{hole.name} passes {len(names)} conductors{among} over the bare edge of the sheet",
            remedy=f"a grommet for a sheet of {metre(passages.sheet)}{bore}, or a bushing",
            working=tuple(names),
            others=tuple(dict.fromkeys(conductor.subject for conductor in hole.conductors)),
            harm=None if hole.live else Harm.WEARS,
        )
