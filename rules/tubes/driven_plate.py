"""Tubes whose plates dissipate more than they may while the amplifier is driven."""

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
    rule,
    watt,
)


@rule(
    title="A tube dissipates too much at its plate when driven",
    harm=Harm.OVERHEATS,
    why="""
        A class A plate is coolest when it works; a class AB or B plate is hottest at some two
        thirds of full swing, or beyond clipping where its mate is left behind. Ratings hold for a
        sine all evening, music being kinder: to clipping the word is by the rating, past it at
        twice clipping only, or past a design-center one with the mains high only, NOTICE.
    """,
    sources=[cite("tube-ratings"), cite("rating-systems"), cite("class-b-heat")],
    states=("full drive, mains high",),
)
def driven_plate(stages: Stages, ratings: Ratings, warm: Warm, full: FullDrive) -> Verdicts:
    for stage in stages.amplifying:
        part, own = stage.part, stage.section
        rating = known(ratings.of_tube, part, "plate_watts", "plate watts", own)
        if (driven := ratings.tube(part, "plate_watts_driven", own)) is not None:
            rating = driven
        if isinstance(rating, Open):
            yield rating
            continue
        most, idle = rating.figure.value, warm.high.watts(stage.name)
        if idle > most:
            continue  # another rule's
        drive = full.high
        level = max(drive.sustained, key=lambda one: one.watts(stage.name))
        if (lasts := level.watts(stage.name)) <= most < drive.beyond.watts(stage.name):
            level = drive.beyond
        heat = Figure(level.watts(stage.name), "W")
        if heat.value <= most:
            yield Pass(part.subject, heat, rating, level.name, full.rests_on)
            continue
        bears = lasts <= most
        if stage.design_center and not bears:
            bears = all(one.watts(stage.name) <= most for one in full.nominal.sustained)
        yield Fail(
            about=part.subject,
            says=f"{stage.name} dissipates {watt(heat.value)} {level.words}, rated {watt(most)}",
            remedy=f"a load of {heat.value / most:.2g} times the impedance, or a supply lower by"
            f" {1.0 - (most / heat.value) ** 0.5:.0%}",
            value=heat,
            limit=rating,
            state=level.name,
            working=(f"{watt(idle)} without signal", f"{watt(lasts)} at most up to clipping"),
            rests_on=full.rests_on,
            harm=Harm.UNDERPERFORMS if bears else None,
        )
