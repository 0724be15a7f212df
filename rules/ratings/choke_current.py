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
    States,
    Verdicts,
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
    states=(
        "warm, mains high",
        "every standing of the switches",
        "full drive",
        "cold start, mains high",
    ),
)
def choke_current(design: Design, ratings: Ratings, states: States, cold: ColdStart) -> Verdicts:
    ground = cold.steady.netlist.circuit.ground
    for part in design.of(kinds.Choke):
        if not states.knows(part.ref):
            continue
        amperes, heat = states.dc_amperes(part.ref), states.watts(part.ref)
        volts = max(abs(cold.net_volts(net, ground)) for net in part.ends.values())
        cases = [
            (Figure(amperes.value, "A"), "current", "rated current", amp, amperes.state),
            (Figure(volts, "V"), "insulation", "insulation voltage", volt, cold.name),
        ]
        if part.spec.power is not None:
            cases.append((Figure(heat.value, "W"), "power", "power rating", watt, heat.state))
        for value, key, words, said, state in cases:
            rating = known(ratings.stated, part, key, value.unit, words)
            if isinstance(rating, Open):
                yield rating
            elif value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, state, amperes.rests_on)
            else:
                yield Fail(
                    about=part.subject,
                    says=f"{part.ref} {BEARS[key]} {said(value.value)}, rated {said(rating.figure.value)}",
                    remedy=f"a choke of {said(value.value)} {words} or more",
                    value=value,
                    limit=rating,
                    state=state,
                    rests_on=amperes.rests_on,
                )


BEARS = {"current": "carries", "insulation": "has to its frame", "power": "dissipates"}
