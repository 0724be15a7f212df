"""Amplifiers that do not work as they should when the mains is low."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    Harm,
    Pass,
    Stages,
    Verdicts,
    Warm,
    amp,
    cite,
    limit,
    rule,
    volt,
)


@rule(
    title="The mains is too low for it",
    harm=Harm.UNDERPERFORMS,
    why="""
        In the evening, at the end of a long line, the mains is what the site's tolerance says. All
        that a tube lives on falls with it, and all is well: less power, no other fault. Not where
        a heater was fed too little to begin with, whose cathode then runs out of emission on the
        first loud note; and not where one voltage is held and another falls: a bias from a zener
        and a screen from the mains bring the tube near to cut-off. Regulators and zeners that let
        go have rules of their own.
    """,
    sources=[cite("low-heater"), cite("low-current")],
    states=("warm, mains low", "warm, mains nominal"),
)
def mains_low(stages: Stages, warm: Warm) -> Verdicts:
    for heater in stages.heaters:
        bound, due = limit("low-heater"), heater.option.volts
        # one that is cold or starved with the mains as it should be is another rule's
        usual, found = (state.rms(heater.a, heater.b) for state in (warm.nominal, warm.low))
        if usual < NEAR * due:
            continue
        value = Figure(found / due, "x")
        if value.value >= bound.figure.value:
            yield Pass(heater.part.subject, value, bound, warm.low.name, warm.low.rests_on)
            continue
        yield Fail(
            about=heater.part.subject,
            says=f"the heater of {heater.part.ref} is left {volt(found)} with the mains low, made"
            f" for {volt(due)}",
            remedy=f"a winding that gives it {volt(due)} at nominal mains, not {volt(usual)}",
            value=value,
            limit=bound,
            state=warm.low.name,
            rests_on=warm.low.rests_on,
        )
    for stage in stages.amplifying:
        bound = limit("low-current")
        usual, found = (state.cathode_amperes(stage.name) for state in (warm.nominal, warm.low))
        if usual < limit("idle-current").figure.value:
            continue  # it draws none as it is
        value = Figure(found / usual, "x")
        if value.value >= bound.figure.value:
            yield Pass(stage.part.subject, value, bound, warm.low.name, warm.low.rests_on)
            continue
        yield Fail(
            about=stage.part.subject,
            says=f"{stage.name} is left {amp(found)} with the mains low, of {amp(usual)}",
            remedy=f"bias that falls by {1.0 - warm.mains['low'] / warm.mains['nominal']:.0%} as its"
            " supply does, from the same transformer or from a resistor at its cathode",
            value=value,
            limit=bound,
            state=warm.low.name,
            rests_on=warm.low.rests_on,
        )


NEAR = 0.9
"""Of its voltage: what a heater has at nominal mains, else it is starved in any state (the margin
of the rule that judges that)."""
