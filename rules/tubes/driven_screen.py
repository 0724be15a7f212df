"""Tubes whose screens dissipate more than they may while the amplifier is driven."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    FullDrive,
    Harm,
    Open,
    Pass,
    Ratings,
    Stages,
    Verdicts,
    Warm,
    cite,
    known,
    ohm,
    rule,
    watt,
)


@rule(
    title="A tube dissipates too much at its screen when driven",
    harm=Harm.OVERHEATS,
    why="""
        Whenever the plate swings below it the screen takes its current. The trade bears with that
        for the short peaks of music; a sine at clipping, or a guitar, melts the wire. Ratings are
        held to the sine: past one only at twice clipping, or a design-center one with the mains
        high only, the word is NOTICE. A resistor in each screen's lead is the cure.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems"), cite("screen-peaks")],
    states=("full drive, mains high",),
)
def driven_screen(stages: Stages, ratings: Ratings, warm: Warm, full: FullDrive) -> Verdicts:
    for stage in stages.amplifying:
        if stage.screen is None or stage.screen == stage.plate:
            continue
        part, own, name = stage.part, stage.section, stage.name
        rating = known(ratings.of_tube, part, "screen_watts", "screen watts", own)
        if (driven := ratings.tube(part, "screen_watts_driven", own)) is not None:
            rating = driven
        if isinstance(rating, Open):
            yield rating
            continue
        most, idle = rating.figure.value, warm.high.screen_watts(name)
        if idle > most:
            continue  # another rule's
        drive = full.high
        level = max(drive.sustained, key=lambda one: one.screen_watts(name))
        if (lasts := level.screen_watts(name)) <= most < drive.beyond.screen_watts(name):
            level = drive.beyond
        heat = Figure(level.screen_watts(name), "W")
        if heat.value <= most:
            yield Pass(part.subject, heat, rating, level.name, full.rests_on)
            continue
        bears = lasts <= most
        if stage.design_center and not bears:
            bears = all(one.screen_watts(name) <= most for one in full.nominal.sustained)
        # heat goes with the 5/2 power of the screen's volts, its current with the 3/2
        share = (most / heat.value) ** 0.4
        volts = level.volts(stage.screen) - level.volts(stage.cathode)
        ohms = (1.0 - share) * volts / (share**1.5 * heat.value / volts)
        yield Fail(
            about=part.subject,
            says=f"the screen of {name} dissipates {watt(heat.value)} {level.words}, rated"
            f" {watt(most)}",
            remedy=f"{ohm(ohms)} more in the lead of its screen",
            value=heat,
            limit=rating,
            state=level.name,
            working=(f"{watt(idle)} without signal", f"{watt(lasts)} at most up to clipping"),
            rests_on=full.rests_on,
            harm=Harm.UNDERPERFORMS if bears else None,
        )
