"""Connectors with more voltage between contacts than they are made for."""

from __future__ import annotations

import itertools

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
    cite,
    kinds,
    known,
    limit,
    rule,
    volt,
    weak,
    worst,
)


@rule(
    title="A connector has more voltage on it than its rating",
    harm=Harm.FAULT_KILLS,
    why="""
        The plug between a supply and its amplifier is held in a hand. Its contacts stand a
        millimetre or two from each other and from the shell, with flux and dust between; many that
        are used for it are made for signals, or for a battery. Where they arc over the high
        voltage is on the heater wiring, or on the shell. Judged are power connectors above what may
        be touched, and any other whose rating is stated; a shell counts as the chassis.
    """,
    sources=[cite("part-rating"), cite("touch-voltage")],
    states=(
        "cold start, mains high",
        "warm, mains high",
        "every standing of the switches",
        "full drive",
    ),
)
def connector_voltage(
    design: Design, ratings: Ratings, states: States, cold: ColdStart
) -> Verdicts:
    every = (cold.steady, *states.lasting)
    ground = cold.steady.netlist.circuit.ground
    for part in design.of(kinds.Connector):
        asked = part.spec.role == "power"
        if not part.ends or not (asked or part.spec.voltage is not None):
            continue
        contacts = {f"contact {name}": net for name, net in part.ends.items()}
        ends = {**contacts, "its shell": ground}
        pairs = [pair for pair in itertools.combinations(ends, 2) if ends[pair[0]] != ends[pair[1]]]
        cases = [
            (state.rms(ends[a], ends[b]), f"{a} and {b}", state)
            for a, b in pairs
            for state in every
            if state.has(ends[a]) and state.has(ends[b])
        ]
        if not cases:
            continue
        volts, between = worst(*((volts, between) for volts, between, _state in cases))
        state = next(state for value, pair, state in cases if (value, pair) == (volts, between))
        if part.spec.voltage is None and volts <= limit("touch-voltage").figure.value:
            continue
        value, rating = (
            Figure(volts, "V"),
            known(ratings.stated, part, "voltage", "V", "rated voltage"),
        )
        if isinstance(rating, Open):
            yield rating
        elif volts <= rating.figure.value:
            rests_on = state.rests_on + weak(rating, f"the rated voltage of {part.ref}")
            yield Pass(part.subject, value, rating, state.name, rests_on)
        else:
            yield Fail(
                about=part.subject,
                says=f"{part.ref} has {volt(volts)} between {between}, rated"
                f" {volt(rating.figure.value)}",
                remedy=f"a connector rated {volt(volts)} or more, ac or dc as it is",
                value=value,
                limit=rating,
                state=state.name,
                rests_on=state.rests_on,
            )
