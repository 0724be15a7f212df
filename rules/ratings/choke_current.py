"""Chokes with too much current through them, or too much voltage to their frame."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    known,
    rule,
    volt,
    watt,
)


@rule(
    title="A choke is loaded beyond its rating",
    harm=Harm.WEARS,
    why="""
        Past its rated dc a choke's core saturates: the inductance falls away, hum comes through
        and the winding heats. Its insulation has to bear the whole supply voltage to the frame,
        which is screwed to the chassis.
    """,
    sources=[cite("part-rating")],
    states=("warm, mains high", "cold start, mains high"),
)
def choke_current(design: Design, ratings: Ratings, warm: Warm, cold: ColdStart) -> Verdicts:
    ground = cold.steady.netlist.circuit.ground
    for part in design.of(kinds.Choke):
        if not warm.high.knows(part.ref):
            continue
        amperes = abs(warm.high.mean_amperes(part.ref))
        volts = max(abs(cold.net_volts(net, ground)) for net in part.ends.values())
        cases = [
            (Figure(amperes, "A"), "current", "rated current", amp, warm.high.name),
            (Figure(volts, "V"), "insulation", "insulation voltage", volt, cold.name),
        ]
        if part.spec.power is not None:
            heat = Figure(warm.high.watts(part.ref), "W")
            cases.append((heat, "power", "power rating", watt, warm.high.name))
        for value, key, words, said, state in cases:
            rating = known(ratings.stated, part, key, value.unit, words)
            if isinstance(rating, Open):
                yield rating
            elif value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, state, warm.high.rests_on)
            else:
                yield Fail(
                    about=part.subject,
                    says=f"{part.ref} {BEARS[key]} {said(value.value)}, rated {said(rating.figure.value)}",
                    remedy=f"a choke of {said(value.value)} {words} or more",
                    value=value,
                    limit=rating,
                    state=state,
                    rests_on=warm.high.rests_on,
                )


BEARS = {"current": "carries", "insulation": "has to its frame", "power": "dissipates"}
