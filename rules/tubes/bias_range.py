"""Bias presets whose travel goes too far, or not far enough."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Fail,
    Figure,
    FixedBias,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    cite,
    known,
    limit,
    ohm,
    rated,
    rule,
    volt,
    watt,
)


@rule(
    title="A bias preset turns too far, or not far enough",
    harm=Harm.UNDERPERFORMS,
    why="""
        Presets are turned the wrong way once, with a screwdriver, on a live chassis. A resistor at
        each end of the track keeps the worst of it to what a plate bears while it is put right.
        The other end has to bring the strongest tube down to its rating.
    """,
    sources=[cite("preset-range"), cite("tube-ratings")],
    states=("preset at either end, mains high",),
)
def bias_range(bias: FixedBias, ratings: Ratings) -> Verdicts:
    share, state = limit("preset-range"), bias.running
    for preset in bias.presets:
        ref, ends = preset.part.ref, {0.0: preset.part.net("ccw"), 1.0: preset.part.net("cw")}
        volts = {at: state.volts(net) for at, net in ends.items() if net is not None}
        hot, cold = max(volts, key=volts.__getitem__), min(volts, key=volts.__getitem__)
        turned, worst = bias.turned(preset, hot), None
        for stage in preset.stages:
            rating = known(ratings.of_tube, stage.part, "plate_watts", "plate watts", stage.section)
            if isinstance(rating, Open):
                yield rating
                continue
            over = turned.watts(stage.name) / rating.figure.value
            if worst is None or over > worst[0] * (1.0 + 1e-6):
                worst = over, stage, rating
        if worst is None:
            continue
        over, stage, rating = worst
        stuck = False
        if state.watts(stage.name) > rating.figure.value:  # as it stands, midway
            least = bias.turned(preset, cold)
            stuck = least.watts(stage.name) > rating.figure.value
            turned = least if stuck else turned
        bound = rated(
            share.figure.value * rating.figure.value, "W", share.source.text, share.source.basis
        )
        value, end = Figure(turned.watts(stage.name), "W"), "cw" if (hot, cold)[stuck] else "ccw"
        if not stuck and value.value <= bound.figure.value:
            yield Pass(preset.part.subject, value, bound, turned.name, turned.rests_on)
            continue
        yield Fail(
            about=preset.part.subject,
            says=f"{ref} turned to {end} leaves {stage.name} at {watt(value.value)}, rated"
            f" {watt(rating.figure.value)}"
            + (", and that is the least it can do" if stuck else ""),
            remedy=f"a bias supply about {over:.2g} times as far below 0 V"
            if stuck
            else f"a resistor between {ends[hot]} and {ref}, about {ohm(preset.part.spec.value)}",
            value=value,
            limit=rating if stuck else bound,
            state=turned.name,
            others=(stage.part.subject,),
            working=(f"grid at {volt(turned.volts(stage.grid or ''))}",),
            rests_on=turned.rests_on,
            harm=Harm.WEARS if stuck else None,
        )
