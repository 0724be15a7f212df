"""Contacts of connectors that one shorted capacitor makes live."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    CouplingShorts,
    Datum,
    Design,
    Fail,
    Figure,
    Harm,
    Limit,
    Pass,
    Verdicts,
    amp,
    cite,
    kinds,
    limit,
    ohm,
    rule,
    volt,
)

SHARE = 0.5
"""Of a limit: below it no model of a tube is so wrong as to come to the limit (our choice)."""
PEAK = 2.0**0.5


@rule(
    title="A shorted coupling capacitor makes a contact live",
    harm=Harm.FAULT_KILLS,
    why="""
        One capacitor often is all that keeps a contact from a plate, a cathode or the supply. When it
        shorts the contact takes that voltage, and a drain of a megohm does not hold it down. What
        counts then is what a hand is given: a plate behind 100 kohm gives milliamperes, a
        cathode follower, a choke-loaded plate or a supply all it has. A class Y capacitor does not
        fail so, up to the peak of its ac rating; of two in series the other still stands. After a fault either the voltage or the
        current has to be within its limit; as built there are stricter ones, and other rules.
    """,
    sources=[cite("fault-touch")],
    states=("cold start, mains high", "warm, mains high", "with the capacitor shorted"),
)
def shorted_coupling(design: Design, shorts: CouplingShorts) -> Verdicts:
    most, through = limit("fault-touch-voltage"), limit("fault-touch-current")
    for part in design.of(kinds.Connector):
        if part.spec.role == "power":
            continue
        failed: list[Fail] = []
        kept: list[tuple[Figure | None, Limit | None, str, tuple[Datum, ...]]] = []
        for contact, capacitor, beyond in shorts.capacitors(part):
            volts, state, rests_on = shorts.beyond(beyond)
            bears = PEAK * (capacitor.spec.voltage or 0.0)
            if (capacitor.spec.safety_class or "").startswith("Y") and volts <= bears:
                kept.append((None, None, "", ()))
                continue
            if volts <= most.figure.value:
                weak = rests_on if volts > SHARE * most.figure.value else ()
                kept.append((Figure(volts, "V"), most, state, weak))
                continue
            # the state that comes nearer to having both above their limits
            case = max(
                shorts.touched(part, contact, capacitor),
                key=lambda t: min(t.volts / most.figure.value, t.amperes / through.figure.value),
            )
            value, share = Figure(case.amperes, "A"), case.amperes / through.figure.value
            if case.volts <= most.figure.value or share <= 1.0:
                weak = case.rests_on if share > SHARE else ()
                kept.append((value, through, case.state, weak))
                continue
            behind = case.volts / through.figure.value - case.volts / case.amperes
            failed.append(
                Fail(
                    about=part.subject,
                    says=f"with {capacitor.ref} shorted {part.ref}.{contact} stands at"
                    f" {volt(case.volts)}, and gives {amp(case.amperes)} into a hand",
                    remedy=f"a second capacitor in series with {capacitor.ref}, one of class Y in"
                    f" its place, or {ohm(behind)} more ahead of the contact",
                    value=value,
                    limit=through,
                    state=case.state,
                    others=(capacitor.subject,),
                    rests_on=case.rests_on,
                )
            )
        yield from failed
        if kept and not failed:
            # of several capacitors the one least is known of
            yield Pass(part.subject, *max(kept, key=lambda one: len(one[3])))
