"""Potentiometers with too much power or voltage on the track, or dc where a hand turns them."""

from __future__ import annotations

import itertools

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Schematic,
    States,
    Verdicts,
    Warm,
    cite,
    kinds,
    known,
    limit,
    rule,
    volt,
    watt,
)


@rule(
    title="A potentiometer is overloaded, or has dc on it",
    harm=Harm.WEARS,
    why="""
        A track is rated for power all along it: what flows in a part of it may be no more than
        would flow in the whole. The power given is the square of the largest current times the
        whole resistance, the wiper where the computed states have it. A volume or tone control
        with dc across it, for want of a capacitor, scratches whenever it is turned.
    """,
    sources=[cite("part-rating"), cite("any-potentiometer"), cite("control-dc")],
    states=("warm, mains high", "every standing of the switches", "cold start, mains high"),
)
def potentiometer_load(
    design: Design, schematic: Schematic, ratings: Ratings, states: States, warm: Warm
) -> Verdicts:
    for part in design.of(kinds.Potentiometer):
        halves = [n for end in ("ccw", "wiper") if states.knows(n := f"{part.ref}.{end}")]
        if not halves:
            continue
        nets = sorted(set(part.ends.values()))
        hot = max((states.amperes(half) for half in halves), key=lambda worst: worst.value)
        across = [states.volts(*pair) for pair in itertools.combinations(nets, 2)]
        high = max(across, key=lambda worst: worst.value)
        heat = hot.value**2 * part.spec.value
        for value, key, words, said, case in (
            (Figure(heat, "W"), "power", "power rating", watt, hot),
            (Figure(high.value, "V"), "voltage", "working voltage", volt, high),
        ):
            stated = getattr(part.spec, key) is not None
            if not stated and value.value <= limit(f"any-potentiometer-{key}").figure.value:
                continue
            rating = known(ratings.stated, part, key, value.unit, words)
            if isinstance(rating, Open):
                yield rating
            elif value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, case.state, case.rests_on)
            else:
                bears = f"{words} {said(rating.figure.value)}"
                yield Fail(
                    about=part.subject,
                    says=f"{part.ref} has {said(value.value)} on its track, {bears}",
                    remedy=f"a potentiometer of {said(2.0 * value.value)}, or resistors in series",
                    value=value,
                    limit=rating,
                    state=case.state,
                    rests_on=case.rests_on,
                )
        if _carries_signal(design, {*nets} - {part.net("wiper")} - schematic.ground()):
            state, most = warm.nominal, limit("control-dc")
            dc = max(abs(state.over(a, b)) for a, b in itertools.combinations(nets, 2))
            if dc <= most.figure.value:
                yield Pass(part.subject, Figure(dc, "V"), most, state.name, state.rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"{part.ref} has {volt(dc)} dc across it, and is turned by hand",
                remedy="a film capacitor of 100 nF or more on each side of it that dc comes from",
                value=Figure(dc, "V"),
                limit=most,
                state=state.name,
                rests_on=state.rests_on,
                harm=Harm.UNDERPERFORMS,
            )


def _carries_signal(design: Design, ends: set[str]) -> bool:
    """Whether an input, or a coupling capacitor, is straight on its track."""
    found = [p.ends for p in design.of(kinds.Connector) if p.spec.role == "input"]
    found += [p.ends for p in design.of(kinds.Capacitor) if p.spec.dielectric != "electrolytic"]
    return any(ends & set(other.values()) for other in found)
