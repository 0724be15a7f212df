"""Switches that break more than their contacts are made for."""

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
    Standings,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    known,
    limit,
    rule,
    volt,
    weak,
)


@rule(
    title="A switch breaks more than its contacts are rated for",
    harm=Harm.FAULT_KILLS,
    why="""
        Contacts that break too much weld or burn, and a mains switch that welded no longer switches
        off. Direct current is far the worse: an arc at 250 V ac goes out at the next zero, at
        350 V dc it burns on, so an ac rating says nothing of a standby switch in the HT.
    """,
    sources=[cite("part-rating"), cite("switch-dc")],
    states=("warm, mains nominal", "every standing of the switches", "cold start, mains high"),
)
def switch_contacts(
    design: Design, ratings: Ratings, warm: Warm, standings: Standings, cold: ColdStart
) -> Verdicts:
    touch, state = limit("touch-voltage").figure.value, warm.nominal
    ground = state.netlist.circuit.ground
    for part in design.of(kinds.Switch):
        pairs = {pair for joined in part.spec.positions.values() for pair in joined}
        ends = set(part.ends.values())
        nets = {net for net in ends if state.has(net) and cold.steady.has(net)}
        ac = max((state.rms(net, ground) for net in nets), default=0.0)
        dc = max((abs(state.volts(net)) for net in nets), default=0.0)
        if ac <= touch / 2 and dc <= touch:
            continue  # a signal, or a heater
        carried, held = 0.0, state
        for contact in sorted(f"{part.ref}.{pair}" for pair in pairs):
            # one that is open while it runs is closed in another standing
            closed = (s for s in (state, *standings.states) if s.knows(contact))
            if (first := next(closed, None)) is not None and first.rms_amperes(contact) > carried:
                carried, held = first.rms_amperes(contact), first
        # the rms of a smoothed supply is its dc
        direct = dc > 0.9 * ac
        seen = max(abs(cold.net_volts(net, ground)) for net in nets) if direct else ac
        kind = "dc" if direct else "ac"
        broken = ("dc_voltage" if direct else "voltage", f"{kind} voltage rating", f" {kind}")
        for value, (key, words, which), said, when in (
            (Figure(seen, "V"), broken, volt, cold.name if direct else state.name),
            (Figure(carried, "A"), ("current", "current rating", ""), amp, held.name),
        ):
            rating = known(ratings.stated, part, key, value.unit, words)
            if isinstance(rating, Open):
                yield rating
                continue
            rests_on = weak(rating, f"the {words} of {part.ref}")
            # no model of a tube is so wrong as to double what a switch carries (our choice)
            if key == "current" and value.value > 0.5 * rating.figure.value:
                rests_on += state.rests_on
            elif key == "dc_voltage":
                rests_on += cold.rests_on
            if value.value <= rating.figure.value * 1.001:
                yield Pass(part.subject, value, rating, when, rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"{part.ref} breaks {said(value.value)}{which}, rated"
                f" {said(rating.figure.value)}{which}",
                remedy=f"a switch rated {said(value.value)}{which} or more"
                + (", or one on the ac side of the rectifier" if which == " dc" else ""),
                value=value,
                limit=rating,
                state=when,
                rests_on=rests_on,
            )
