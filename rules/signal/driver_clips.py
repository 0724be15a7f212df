"""Drivers that are at their end before the output stage is."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Feeds,
    Figure,
    FullDrive,
    Harm,
    Pass,
    Schematic,
    Signal,
    Verdicts,
    cite,
    limit,
    rule,
    volt,
)

ROOM = 0.1
"""Share of the next stage's bias that counts as room left; our choice."""


@rule(
    title="A driver clips before the output stage does",
    harm=Harm.UNDERPERFORMS,
    why="""
        The output stage wants a swing that the stage before it must give without coming near its
        own end, cut off or bottomed. Where the driver is the first to flatten, what the output
        tubes and their transformer could give is not to be had. A driver held down by the grid
        current of the next stage is not at its own end.
    """,
    sources=[cite("driver-slope")],
    states=("driven to clipping, mains nominal",),
)
def driver_clips(
    design: Design, schematic: Schematic, signal: Signal, feeds: Feeds, full: FullDrive
) -> Verdicts:
    if design.document.project.duty == "preamplifier":
        return  # no stage of it has more to give than another
    least, level = limit("driver-slope"), full.nominal.clipping
    ends = schematic.ground() | frozenset(feeds.smoothed)
    ground, before = signal.state.netlist.circuit.ground, set[str]()
    for one in signal.stages:
        led = schematic.reach(
            one.net, lambda section: section.body.name in ("RESISTOR", "CAPACITOR"), ends
        )
        following = [
            other.stage
            for other in signal.stages
            if other.stage.grid in led and other.stage.grid != one.stage.grid
        ]
        rooms = {
            stage.name: -float(level.between(stage.grid or ground, stage.cathode).max())
            for stage in following
        }
        if not rooms:
            continue  # the last, which is to clip
        slope = Figure(float(level.drive.slopes((one.net, ground)).min()), "x")
        about, wave = one.stage.part.subject, level.between(one.net, ground)
        name = min(rooms, key=lambda stage: (rooms[stage], stage))
        (bias,) = (
            signal.state.over(stage.cathode, stage.grid or ground)
            for stage in following
            if stage.name == name
        )
        if slope.value >= least.figure.value or rooms[name] < ROOM * bias:
            yield Pass(about, slope, least, level.name, full.rests_on)
            continue
        told = one.net in before or one.stage.name in before
        before |= {one.net, *rooms}
        if told:
            continue  # by its twin, or what it is given is flat already
        swing, room = float(wave.max() - wave.min()), rooms[name]
        yield Fail(
            about=about,
            says=f"{one.stage.name} flattens at {volt(swing)} peak to peak while the grid of {name}"
            f" is {volt(room)} below its cathode still",
            remedy=f"{bias / max(bias - room, 0.01 * bias):.2g} times that swing: more volts for"
            f" {one.stage.name}, a lighter load or more bias",
            value=slope,
            limit=least,
            state=level.name,
            rests_on=full.rests_on,
        )
