"""Output tubes that a failed bias supply leaves without bias."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    FixedBias,
    Fuses,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    amp,
    cite,
    kinds,
    known,
    limit,
    ohm,
    rule,
    seconds,
    watt,
)


@rule(
    title="A failed bias leaves a tube far beyond its rating",
    harm=Harm.WEARS,
    why="""
        With fixed bias one dirty wiper, dry joint or dead rectifier takes the grid to 0 V, and the
        tube draws all it can until its plate is red and the output transformer has gone. A
        resistor across the wiper's gap, a little cathode resistance or a quick fuse in the way of
        the plate current saves the set.
    """,
    sources=[cite("bias-failure"), cite("tube-ratings")],
    states=("one part of the bias supply open, mains high",),
)
def bias_failure(bias: FixedBias, ratings: Ratings, fuses: Fuses) -> Verdicts:
    red = limit("red-plate-time")
    for failure in bias.failures:
        state, held = bias.failed(failure), []
        for stage in failure.stages:
            rating = known(ratings.of_tube, stage.part, "plate_watts", "plate watts", stage.section)
            if isinstance(rating, Open):
                yield rating
            else:
                held.append((stage, rating))
        if not held:
            continue
        blown, rests_on = [], state.rests_on
        for fuse in fuses.all:
            guard = known(fuses.guard, fuse.ref)
            if isinstance(guard, Open) or not state.knows(fuse.ref):
                continue  # what cannot be told to open does not count
            opened = guard.opens_within(state.rms_amperes(fuse.ref))
            if opened is not None and opened[0] <= red.figure.value:
                blown.append(fuse)
                rests_on += guard.rests_on(opened[1])
        gone = tuple(fuse.ref for fuse in blown)
        dead = all(bias.cut_off(stage, gone) for stage, _rating in held)
        if dead or any(fuses.at_mains(fuse) for fuse in blown):
            yield Pass(failure.part.subject, state=state.name, rests_on=rests_on)
            continue
        if blown:
            state = bias.failed(failure, gone)
        heat = {s.name: state.watts(s.name) for s, _rating in held}
        # a tube that the failure hardly touches is another rule's
        mine = [h for h in held if heat[h[0].name] > 1.2 * bias.running.watts(h[0].name)]
        if not mine:
            yield Pass(failure.part.subject, state=state.name, rests_on=rests_on)
            continue
        stage, rating = max(mine, key=lambda h: round(heat[h[0].name] / h[1].figure.value, 6))
        value = Figure(heat[stage.name], "W")
        if value.value <= rating.figure.value:
            yield Pass(failure.part.subject, value, rating, state.name, rests_on)
            continue
        wait, drawn = seconds(red.figure.value), amp(state.cathode_amperes(stage.name))
        remedy = f"fuses in the plate supply that open within {wait} at {drawn} a tube"
        preset = failure.part.spec
        if isinstance(preset, kinds.Potentiometer):
            ends = [net for end in ("ccw", "cw") if (net := failure.part.net(end)) is not None]
            low, across = min(ends, key=bias.running.volts), ohm(10.0 * preset.value)
            remedy = f"a resistor of {across} from the wiper to {low}, the negative end"
        yield Fail(
            about=failure.part.subject,
            says=f"with {failure.name} {stage.name} dissipates {watt(value.value)},"
            f" {value.value / rating.figure.value:.2g} times its {watt(rating.figure.value)}",
            remedy=remedy,
            value=value,
            limit=rating,
            state=state.name,
            others=tuple(dict.fromkeys(each.part.subject for each, _rating in mine)),
            working=tuple(f"{each.name}: {watt(heat[each.name])}" for each, _rating in mine),
            rests_on=rests_on,
        )
