"""Wires whose insulation is rated below the voltage it keeps apart."""

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
    cite,
    known,
    limit,
    metre,
    rule,
    volt,
    weak,
)


@rule(
    title="A wire's insulation is rated below what it sees",
    harm=Harm.FAULT_KILLS,
    why="""
        A wire lies on the metal, or is twisted with another, and only its insulation is between.
        Before the tubes draw current a supply stands at its full peak, and under drive a plate
        swings well above it. Hook-up wire of 300 V is the usual mistake. The ratings of wire are
        volts rms; what is held against them is the rms over a cycle, and so the dc of a supply.
    """,
    sources=[cite("wire-volts"), cite("touch-voltage"), cite("bare-jumper")],
    states=(
        "cold start, mains high",
        "warm, mains high",
        "every standing of the switches",
        "driven",
    ),
)
def insulation(conductors: Conductors, ratings: Ratings) -> Verdicts:
    judged: dict[Subject, Fail | Open | Pass] = {}
    for wire in conductors.all:
        seen = conductors.volts(wire)
        if seen is None or seen[0].value <= limit("any-insulation").figure.value:
            continue
        worst, apart = seen
        value, before = Figure(worst.value, "V"), judged.get(wire.subject)
        if isinstance(before, Fail) and before.value is not None and before.value >= value:
            continue  # of the leads of a part the worst is named
        if wire.kind is not None and wire.kind.bare:
            if worst.value > limit("touch-voltage").figure.value:
                judged[wire.subject] = _bare(wire.name, wire.subject, wire.length, value)
            continue
        if wire.kind is None or wire.sort is None:
            where = (*wire.subject.path, "lead")
            judged[wire.subject] = Open(
                wire.subject, f"what the leads of {wire.subject} are", where
            )
            continue
        bound = known(ratings.wire_volts, wire.sort, wire.kind)
        if isinstance(bound, Open):
            judged[bound.about] = bound
        elif worst.value <= bound.figure.value:
            rests_on = worst.rests_on + weak(bound, f"the rating of {bound.source.text}")
            if 2.0 * worst.value > bound.figure.value:  # drive at most doubles it
                rests_on += conductors.rests_on
            passed = Pass(wire.subject, value, bound, worst.state, rests_on)
            judged.setdefault(wire.subject, passed)
        else:
            judged[wire.subject] = Fail(
                about=wire.subject,
                says=f"{wire.name} has {volt(worst.value)} to {apart}, its insulation is rated"
                f" {volt(bound.figure.value)}",
                remedy=f"wire rated {volt(worst.value)} or more, as the styles of 600 V are",
                value=value,
                limit=bound,
                state=worst.state,
                rests_on=worst.rests_on,
            )
    yield from judged.values()


def _bare(name: str, about: Subject, length: float | None, value: Figure) -> Fail | Open | Pass:
    most = limit("bare-jumper")
    if length is None:
        return Open(about, f"the length of {about}", (*about.path, "length"))
    if length <= most.figure.value:
        return Pass(about, Figure(length, "m"), most)
    return Fail(
        about=about,
        says=f"{name} is bare for {metre(length)} and stands at {volt(value.value)}",
        remedy=f"insulated wire, or sleeving rated {volt(value.value)} over it",
        value=Figure(length, "m"),
        limit=most,
    )
