"""Resistors that run hotter than their rating, or than practice allows."""

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
    Spread,
    States,
    Verdicts,
    amp,
    cite,
    kinds,
    known,
    limit,
    rule,
    watt,
    weak,
)


@rule(
    title="A resistor dissipates too much",
    harm=Harm.OVERHEATS,
    why="""
        Above its rating a resistor drifts, chars the board and the wires near it, and opens. Rated
        power holds up to a temperature that the inside of a chassis can reach. Practice keeps it
        below half the rating, which also leaves room for tubes and parts that are off: where half
        is passed, the share of builds past all of it is told, without signal. Screen droppers and
        cathode resistors have most to bear at full drive, a sine for as long as one likes. Bleeders
        have a rule of their own.
    """,
    sources=[cite("part-rating"), cite("resistor-rating"), cite("resistor-half"), cite("builds")],
    states=(
        "warm, mains high",
        "every standing of the switches",
        "full drive",
        "a thousand builds",
    ),
)
def resistor_power(
    design: Design, ratings: Ratings, states: States, cold: ColdStart, spread: Spread
) -> Verdicts:
    share, few = limit("resistor-share").figure.value, limit("builds").figure.value
    for part in design.of(kinds.Resistor):
        if part.ref in cold.bleeders or not states.knows(part.ref):
            continue
        rating = known(ratings.resistor_watts, part)
        if isinstance(rating, Open):
            yield rating
            continue
        worst = states.watts(part.ref)
        heat, most = worst.value, rating.figure.value
        rests_on = worst.rests_on + weak(rating, f"the power rating of {part.ref}")
        if heat <= share * most:
            yield Pass(part.subject, Figure(heat, "W"), rating, worst.state, rests_on)
            continue
        over, builds = heat > most, spread.high
        beyond = builds.beyond(builds.resistor_watts(part.ref), most)
        often = f"more than {watt(most)} {builds.often(beyond)}"
        told = beyond > few and not over
        yield Fail(
            about=part.subject,
            says=f"{part.ref} dissipates {watt(heat)}, "
            + ("more than" if over else "more than half of")
            + f" its {watt(most)}"
            + (f", and {often}" if told else ""),
            remedy=f"a resistor rated {watt(heat / share * (part.spec.power or most) / most)} or more",
            value=Figure(heat, "W"),
            limit=rating,
            state=worst.state,
            working=(f"{amp((heat / part.spec.value) ** 0.5)} rms", often),
            rests_on=rests_on + (builds.rests_on if told else ()),
            harm=None if over else Harm.UNDERPERFORMS,
        )
