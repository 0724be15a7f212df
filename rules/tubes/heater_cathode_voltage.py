"""Tubes with too much voltage between heater and cathode."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    ColdStart,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Stages,
    Verdicts,
    Warm,
    WarmUp,
    cite,
    known,
    limit,
    rule,
    volt,
    worst,
)


@rule(
    title="A tube has too much voltage between heater and cathode",
    harm=Harm.WEARS,
    why="""
        A thin coat of alumina keeps the heater from the cathode. A follower or a phase splitter
        holds its cathode far above a heater that is tied to ground; past the rating the coat leaks,
        hums and breaks through. A heater that is lifted for its sake is far above every cathode
        that is still cold.
    """,
    sources=[cite("tube-ratings"), cite("any-heater")],
    states=("warm, mains high", "cold start, mains high"),
)
def heater_cathode_voltage(
    stages: Stages, ratings: Ratings, warm: Warm, cold: ColdStart, warm_up: WarmUp
) -> Verdicts:
    state, bears = warm.high, limit("any-heater").figure.value
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
        for sign, pairs in (
            ("negative", [(end, stage.cathode) for end in ends]),
            ("positive", [(stage.cathode, end) for end in ends]),
        ):
            cases = [
                (-s.least(a, b), s.name)
                for s in (state, cold.steady)
                if s.has(stage.cathode) and s.has(heater.a)
                for a, b in pairs
            ]
            volts, when = worst(*cases)
            name = f"heater_cathode_volts_heater_{sign}"
            words = f"heater-cathode volts (heater {sign})"
            rating = known(ratings.of_tube, part, name, words, stage.section)
            if isinstance(rating, Open):
                if volts > bears:
                    yield rating
                continue
            if when == cold.name and volts > rating.figure.value and warm_up.slow(stage.plate):
                # what lifts it comes up with the cathodes
                ups = [(-s.least(a, b), s.name) for s in warm_up.states for a, b in pairs]
                volts, when = worst(*reversed(ups))
            if volts <= 0.0:
                continue
            value = Figure(volts, "V")
            if volts <= rating.figure.value:
                yield Pass(part.subject, value, rating, when, state.rests_on)
                continue
            lifted = sign == "positive" and when != state.name
            yield Fail(
                about=part.subject,
                says=f"the heater of {stage.name} is {volt(volts)} {sign} to its cathode, rated"
                f" {volt(rating.figure.value)}",
                remedy=f"heaters lifted by no more than {volt(rating.figure.value)} at switch-on"
                if lifted
                else "a heater winding of its own, tied to about"
                f" {volt(state.volts(stage.cathode))}",
                value=value,
                limit=rating,
                state=when,
                rests_on=state.rests_on,
            )
