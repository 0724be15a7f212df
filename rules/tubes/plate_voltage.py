"""Tubes with more plate or screen voltage than they may have."""

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
    cite,
    known,
    rule,
    volt,
)


@rule(
    title="A tube has too high a plate or screen voltage",
    harm=Harm.WEARS,
    why="""
        Beyond its rated voltage a tube flashes over in its base or leaks between electrodes. The
        rating is from electrode to cathode and for a conducting tube; a cold one is held to the
        cold limit where its data sheet gives one.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems")],
    states=("warm, mains nominal or high by rating system", "cold start, mains high"),
)
def plate_voltage(stages: Stages, ratings: Ratings, warm: Warm, cold: ColdStart) -> Verdicts:
    for stage in stages.amplifying:
        part, state = stage.part, stage.rated_state(warm)
        electrodes = {"plate": stage.plate}
        if stage.screen is not None and stage.screen != stage.plate:
            electrodes["screen"] = stage.screen
        for electrode, net in electrodes.items():
            running = state.volts(net) - state.volts(stage.cathode)
            rating = known(
                ratings.of_tube, part, f"{electrode}_volts", f"{electrode} volts", stage.section
            )
            cases = [(running, rating, state.name)]
            at_rest = ratings.tube(part, f"{electrode}_volts_cold", stage.section)
            if at_rest is not None and cold.steady.has(net) and cold.steady.has(stage.cathode):
                cases.append((abs(cold.net_volts(net, stage.cathode)), at_rest, cold.name))
            for volts, bound, when in cases:
                value = Figure(volts, "V")
                if isinstance(bound, Open):
                    yield bound
                elif volts <= bound.figure.value:
                    yield Pass(part.subject, value, bound, when, state.rests_on)
                else:
                    yield Fail(
                        about=part.subject,
                        says=f"the {electrode} of {stage.name} has {volt(volts)} to its cathode,"
                        f" rated {volt(bound.figure.value)}",
                        remedy=f"a supply lower by {volt(volts - bound.figure.value)} there, or a"
                        " tube that bears it",
                        value=value,
                        limit=bound,
                        state=when,
                        rests_on=state.rests_on,
                    )
