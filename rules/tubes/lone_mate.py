"""Tubes that share a cathode resistor and cannot bear it alone."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Pulled,
    Ratings,
    Schematic,
    Stages,
    Verdicts,
    amp,
    cite,
    known,
    ohm,
    rule,
    volt,
    watt,
)


@rule(
    title="A tube whose mate is pulled dissipates too much",
    harm=Harm.WEARS,
    why="""
        Tubes that share a cathode resistor are biased by the current of both. Pull one, or let it
        fail, and the other is left with little more than half its bias and draws up to twice its
        current, all evening if nobody looks. A resistor for each ends that.
    """,
    sources=[cite("lone-mate"), cite("tube-ratings")],
    states=("one tube pulled, mains high",),
)
def lone_mate(schematic: Schematic, stages: Stages, ratings: Ratings, pulled: Pulled) -> Verdicts:
    ground = schematic.ground() | {schematic.metal}
    for stage in stages.amplifying:
        mates = {
            mate.part.ref: mate.part
            for mate in stages.amplifying
            if mate.cathode == stage.cathode and mate.part.ref != stage.part.ref
        }
        if not mates or stage.cathode in ground:
            continue
        rating = known(ratings.of_tube, stage.part, "plate_watts", "plate watts", stage.section)
        if isinstance(rating, Open):
            yield rating
            continue
        # mates are alike: whichever is gone, it leaves the others the same
        gone = mates[min(mates)]
        state = pulled.without(gone.ref)
        value = Figure(state.watts(stage.name), "W")
        if value.value <= rating.figure.value:
            yield Pass(stage.part.subject, value, rating, state.name, state.rests_on)
            continue
        lifted, drawn = state.volts(stage.cathode), state.cathode_amperes(stage.name)
        yield Fail(
            about=stage.part.subject,
            says=f"{stage.name} dissipates {watt(value.value)} with {gone.ref} pulled, rated"
            f" {watt(rating.figure.value)}",
            remedy=f"a cathode resistor for each, {len(mates) + 1} times the one they share",
            value=value,
            limit=rating,
            state=state.name,
            others=tuple(mate.subject for mate in mates.values()),
            working=(
                f"{amp(drawn)} through its cathode, which is at {volt(lifted)}:"
                f" {ohm(lifted / drawn)}",
            ),
            rests_on=state.rests_on,
        )
