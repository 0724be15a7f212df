"""Tubes with too much voltage between heater and cathode."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Stages,
    Verdicts,
    Warm,
    cite,
    known,
    rule,
    volt,
)


@rule(
    title="A tube has too much voltage between heater and cathode",
    harm=Harm.WEARS,
    why="""
        A thin coat of alumina keeps the heater from the cathode. A follower or a phase splitter
        holds its cathode far above a heater that is tied to ground; past the rating the coat leaks,
        hums and breaks through.
    """,
    sources=[cite("tube-ratings")],
    states=("warm, mains high",),
)
def heater_cathode_voltage(stages: Stages, ratings: Ratings, warm: Warm) -> Verdicts:
    state = warm.high
    heaters = {heater.part.ref: heater for heater in stages.heaters}
    for stage in (*stages.amplifying, *stages.rectifiers):
        part, heater = stage.part, heaters.get(stage.part.ref)
        if heater is None or stage.cathode not in part.ends.values():
            continue  # a filament is its own cathode
        if state.floats(heater.a):
            continue  # a heater that is tied to nothing is another rule's
        ends = (heater.a, heater.b)
        if stage.cathode in ends:
            continue
        for sign, volts in (
            ("negative", max(-state.least(end, stage.cathode) for end in ends)),
            ("positive", max(-state.least(stage.cathode, end) for end in ends)),
        ):
            if volts <= 0.0:
                continue
            name = f"heater_cathode_volts_heater_{sign}"
            words = f"heater-cathode volts (heater {sign})"
            rating = known(ratings.of_tube, part, name, words, stage.section)
            value = Figure(volts, "V")
            if isinstance(rating, Open):
                yield rating
            elif volts <= rating.figure.value:
                yield Pass(part.subject, value, rating, state.name, state.rests_on)
            else:
                middle = state.volts(stage.cathode)
                yield Fail(
                    about=part.subject,
                    says=f"the heater of {stage.name} is {volt(volts)} {sign} to its cathode, rated"
                    f" {volt(rating.figure.value)}",
                    remedy=f"a heater winding of its own, tied to about {volt(middle)}",
                    value=value,
                    limit=rating,
                    state=state.name,
                    rests_on=state.rests_on,
                )
