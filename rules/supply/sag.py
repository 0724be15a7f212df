"""Supplies that fall too far at full power."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Feeds,
    Figure,
    FullDrive,
    Harm,
    Pass,
    Verdicts,
    Warm,
    cite,
    limit,
    rule,
    volt,
)


@rule(
    title="A supply falls too far at full power",
    harm=Harm.UNDERPERFORMS,
    why="""
        A class AB stage draws more the harder it is driven, and what resistance there is between
        the mains and its plates takes the difference: windings, rectifier, droppers. A loud passage
        is then given less than the first moment of it was, and bias and screen follow. Some want
        that of a guitar amplifier. The worst of the nodes that feed a plate or screen is told.
    """,
    sources=[cite("supply-sag")],
    states=("warm, mains high", "driven to clipping, mains high"),
)
def sag(design: Design, feeds: Feeds, warm: Warm, full: FullDrive) -> Verdicts:
    most, idle, driven = limit("supply-sag"), warm.high, full.high.clipping
    falls = {
        feed.net: 1.0 - driven.volts(feed.net) / idle.volts(feed.net)
        for feed in feeds.every
        if abs(idle.volts(feed.net)) > 1.0
    }
    if not falls:
        return
    net = max(falls, key=lambda one: round(falls[one], 6))
    about, value = design.net_subject(net), Figure(max(falls[net], 0.0), "%")
    if falls[net] <= most.figure.value:
        yield Pass(about, value, most, driven.name, full.rests_on)
        return
    yield Fail(
        about=about,
        says=f"{net} falls by {falls[net]:.0%} at full power, from {volt(idle.volts(net))} to"
        f" {volt(driven.volts(net))}",
        remedy=f"{most.figure.value / falls[net]:.2g} times the resistance ahead of it, windings"
        " and rectifier included",
        value=value,
        limit=most,
        state=driven.name,
        working=tuple(
            f"{one}: {volt(idle.volts(one))} to {volt(driven.volts(one))}" for one in falls
        ),
        rests_on=full.rests_on,
    )
