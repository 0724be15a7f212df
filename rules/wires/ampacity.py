"""Wires too thin for the current they carry."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Conductors,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Subject,
    Verdicts,
    amp,
    cite,
    known,
    limit,
    rule,
)


@rule(
    title="A wire is too thin for its current",
    harm=Harm.OVERHEATS,
    why="""
        Copper is heated by the square of its current, and in a bundle beside hot tubes the heat
        leaves slowly. Heater runs carry amperes; a charging reservoir draws far more rms than the
        dc it gives. Of a chain of wire the span nearest the feed carries all that lies beyond it.
        Held against the table for full bundles, for the insulation and the air inside.
    """,
    sources=[cite("wire-amperes"), cite("any-wire")],
    states=("warm, mains high", "every standing of the switches", "driven"),
)
def ampacity(conductors: Conductors, ratings: Ratings) -> Verdicts:
    judged: dict[Subject, Fail | Open | Pass] = {}
    for wire in conductors.all:
        carried = conductors.amperes(wire)
        if carried is None or wire.kind is None or wire.sort is None:
            continue  # a lead of which nothing is said is asked for by its insulation
        worst, span = carried
        value = Figure(worst.value, "A")
        if value.value <= limit("any-wire").figure.value:
            continue
        bound = known(ratings.wire_amperes, wire.sort, wire.kind)
        before = judged.get(wire.subject)
        if isinstance(bound, Open):
            judged[bound.about] = bound
        elif value.value <= bound.figure.value:
            rests_on = worst.rests_on + conductors.rests_on
            passed = Pass(wire.subject, value, bound, worst.state, rests_on)
            judged.setdefault(wire.subject, passed)
        elif not isinstance(before, Fail) or before.value is None or value > before.value:
            where = f" from {span}" if span else ""
            judged[wire.subject] = Fail(
                about=wire.subject,
                says=f"{wire.name} carries {amp(value.value)} rms{where}, and is good for"
                f" {amp(bound.figure.value)}",
                remedy=f"a wire of {1e6 * wire.kind.size * value.value / bound.figure.value:.2g} mm2"
                " or more, or the load on two runs",
                value=value,
                limit=bound,
                state=worst.state,
                rests_on=worst.rests_on,
            )
    yield from judged.values()
