"""Stages that may motorboat through a supply node they share."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    SlowModes,
    Verdicts,
    cite,
    limit,
    rule,
)


@rule(
    title="The amplifier may motorboat",
    harm=Harm.WEARS,
    why="""
        A late stage moves the supply node it draws from; an early stage on the same node amplifies
        that and hands it on. With three stages between them it comes back in phase, and below the
        frequency where the node's capacitor gives up the loop swings by itself, a few times a
        second and with all the power there is. Computed from the circuit linearised about its warm
        state: growing is CAUTION, barely dying away NOTICE.
    """,
    sources=[cite("motorboating"), cite("filter-swing"), cite("damping")],
    states=("warm, mains nominal",),
)
def motorboating(design: Design, slow: SlowModes) -> Verdicts:
    least, state = limit("damping"), slow.state
    if not slow.swings:
        damping = min((m.damping for m in slow.every if m.hertz < 20.0), default=1.0)
        yield Pass(design.subject, Figure(damping, "x"), least, state.name, slow.rests_on)
    for swing in slow.swings:
        mode, feed = swing.mode, swing.feed
        how = "grows" if mode.unstable else f"dies away slowly, damping ratio {mode.damping:.2g}"
        if feed is not None:
            about, where = design.net_subject(feed.net), f"through {feed.net}"
            remedy = "a resistor and a capacitor of its own ahead of each early stage"
            if swing.times is not None:
                remedy = f"{swing.times:.2g} times the capacitance at {feed.net}, or {remedy}"
            working = (f"{feed.net} feeds {', '.join(feed.stages)}",)
        else:
            ref = next(iter(mode.shares), "")
            about, where = design.parts[ref.partition(".")[0]].subject, f"by way of {ref}"
            remedy = f"a coupling of {least.figure.value:.2g} or more damping: one coupling"
            remedy += " capacitor ten times another"
            working = ("it stays with every supply node held still",)
        yield Fail(
            about=about,
            says=f"a swing at {mode.hertz:.2g} Hz {where} {how}",
            remedy=remedy,
            value=None if mode.unstable else Figure(mode.damping, "x"),
            limit=None if mode.unstable else least,
            state=state.name,
            working=(*working, f"taking part: {', '.join(mode.shares)}"),
            rests_on=slow.rests_on,
            harm=None if mode.unstable else Harm.UNDERPERFORMS,
        )
