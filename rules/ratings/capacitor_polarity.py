"""Electrolytic capacitors the wrong way round."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Verdicts,
    Warm,
    cite,
    kinds,
    limit,
    rule,
    volt,
)


@rule(
    title="An electrolytic capacitor is reversed",
    harm=Harm.WEARS,
    why="""
        Reversed, the oxide of an aluminium electrolytic is eaten away: it draws current, heats and
        bursts. It is easily drawn wrong where the supply is negative, and between two stages whose
        voltages change places as tubes warm up.
    """,
    sources=[cite("capacitor-polarity")],
    states=("cold start, mains high", "warm, mains high"),
)
def capacitor_polarity(design: Design, warm: Warm, cold: ColdStart) -> Verdicts:
    most = limit("reverse-volts")
    for part in design.of(kinds.Capacitor):
        if part.spec.dielectric != "electrolytic" or len(set(part.ends.values())) != 2:
            continue
        plus, minus = part.ends["+"], part.ends["-"]
        adrift = [
            net
            for net in (plus, minus)
            if all(design.parts[ref].spec.kind == "capacitor" for ref, _end in design.nets[net])
        ]
        if adrift:  # capacitors in series without resistors across them
            datum = f"what dc voltage {adrift[0]} has: nothing but capacitors leads to it"
            yield Open(part.subject, datum, part.path)
            continue
        # settled, not from switch-on: the first half cycle of a half-wave doubler may pass through
        # its capacitor backward, and turning that one round would destroy it
        least, state = min(
            (cold.steady.least(plus, minus), cold.name),
            (warm.high.least(plus, minus), warm.high.name),
        )
        value = Figure(max(0.0, round(-least, 3)), "V")  # below a millivolt the solver is heard
        if -least <= most.figure.value:
            yield Pass(part.subject, value, most, state, warm.high.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} has its + at {volt(-least)} below its -",
            remedy=f"turn {part.ref} round: + to {minus}, - to {plus}",
            value=value,
            limit=most,
            state=state,
            rests_on=warm.high.rests_on,
        )
