"""Transistors and regulators beyond their voltage, current or temperature."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    PartUse,
    Pass,
    Ratings,
    States,
    Verdicts,
    cite,
    figure,
    kinds,
    known,
    rule,
)

Case = tuple[Figure, str, str, str]
"""What it has, the key of its rating, the rating in words, the state."""


@rule(
    title="A transistor or regulator is overloaded",
    harm=Harm.WEARS,
    why="""
        A semiconductor has no margin to speak of: past its voltage it is shorted at once, and so it
        is at switch-on, with reservoirs full, tubes cold and gates where a divider left them. Heat
        goes by way of whatever it is screwed to: where that is stated its junction is judged, in
        the air inside, and else the power, which is then taken as what its mounting lets it bear.
    """,
    sources=[cite("part-rating")],
    states=(
        "cold start, mains high",
        "warm, mains high",
        "every standing of the switches",
        "full drive",
    ),
)
def semiconductor_load(design: Design, ratings: Ratings, states: States) -> Verdicts:
    transistors = kinds.Transistor, kinds.BipolarTransistor, kinds.Mosfet, kinds.Regulator
    for part in design.of(*transistors):
        if not states.knows(part.ref):
            continue
        rests_on = states.watts(part.ref).rests_on
        for value, key, words, state in _cases(part, ratings, states):
            rating = known(ratings.stated, part, key, value.unit, words)
            if isinstance(rating, Open):
                yield rating
            elif value.value <= rating.figure.value:
                yield Pass(part.subject, value, rating, state, rests_on)
            else:
                yield Fail(
                    about=part.subject,
                    says=f"{part.ref} comes to {figure(value)}, {words} {figure(rating.figure)}",
                    remedy=f"a part with a {words} of {figure(value._replace(value=1.25 * value.value))}"
                    if key != "junction"
                    else f"a heat sink with {rating.figure.value / value.value:.2g} times the"
                    " thermal resistance, or less heat",
                    value=value,
                    limit=rating,
                    state=state,
                    rests_on=rests_on,
                )


def _cases(part: PartUse, ratings: Ratings, states: States) -> Iterator[Case]:
    spec, ends = part.spec, part.spec.terminals()
    drawn, heat = states.amperes(part.ref), states.watts(part.ref)
    if isinstance(spec, kinds.Regulator):
        # an adjustable one sees only what is across it
        far = "output" if abs(spec.voltage) < 2.0 else "common"
        pairs = [("input", far, "input_voltage", "input voltage rating")]
    elif isinstance(spec, kinds.Mosfet):
        pairs = [("drain", "source", "voltage", "voltage rating")]
        pairs.append(("gate", "source", "gate_voltage", "gate voltage rating"))
    else:
        pairs = [(ends[0], ends[-1], "voltage", "voltage rating")]
    for a, b, key, words in pairs:
        across = states.volts(part.ends[a], part.ends[b])
        yield Figure(across.value, "V"), key, words, across.state
    yield Figure(drawn.value, "A"), "current", "current rating", drawn.state
    cooled = getattr(spec, "thermal_resistance", None)
    if cooled is not None and getattr(spec, "junction", None) is not None:
        hot = Figure(ratings.inside + cooled * heat.value, "degC")
        yield hot, "junction", "junction temperature", heat.state
    else:
        yield Figure(heat.value, "W"), "power", "power rating", heat.state
