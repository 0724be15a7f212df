"""Fuses that blow with nothing wrong."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Fail,
    Figure,
    Fuses,
    Harm,
    Inrush,
    Open,
    Pass,
    Verdicts,
    Warm,
    amp,
    cite,
    known,
    rated,
    rule,
    seconds,
)


@rule(
    title="A fuse blows with nothing wrong",
    harm=Harm.UNDERPERFORMS,
    why="""
        A fuse that opens now and then at switch-on is soon replaced by a larger one, which then
        protects nothing. It has to carry the running current for good, and the rush into cold
        capacitors, cold heaters and the core for as long as it lasts. The core's part of that rush
        is an estimate, and so is how cold heaters are: at the least of what is usual.
    """,
    sources=[
        cite("fuse-loading"),
        cite("fuse-gates"),
        cite("inrush-heaters"),
        cite("inrush-core"),
    ],
    states=("warm, mains high", "cold start, mains high"),
)
def fuse_holds(fuses: Fuses, warm: Warm, inrush: Inrush) -> Verdicts:
    for part in fuses.all:
        if not inrush.knows(part.ref):
            continue  # one end of it is loose
        guard = known(fuses.guard, part.ref)
        if isinstance(guard, Open):
            yield guard
            continue
        state = warm.high  # no load that can be written draws more at a lower voltage
        running, share = state.rms_amperes(part.ref), guard.loading.value
        loading = guard.loading
        bound = rated(share * guard.rating, "A", loading.source, Basis(loading.basis))
        if running > bound.figure.value:
            yield Fail(
                about=part.subject,
                says=f"{part.ref} carries {amp(running)} for good, more than {share:.0%} of its"
                f" {amp(guard.rating)}",
                remedy=f"a fuse of {amp(fuses.next_rating(running / share))}",
                value=Figure(running, "A"),
                limit=bound,
                state=state.name,
                rests_on=state.rests_on,
            )
            continue
        for lasting in (inrush.half, 0.1, 0.5):
            if any(guard.bears(most, lasting) for most in inrush.bounds(part.ref, lasting)):
                continue
            rush = inrush.rms(part.ref, lasting)
            held = guard.holds_for(rush)
            if held is None:
                yield Open(part.subject, f"the melting i2t of {part.ref}", (*part.path, "i2t"))
                break
            yield Fail(
                about=part.subject,
                says=f"{part.ref} may open at switch-on: it carries an estimated {amp(rush)} for"
                f" {seconds(lasting)} and is only made to hold that for {seconds(held[0])}",
                remedy="a time-lag (T) fuse of the same rating, or an inrush limiter ahead of it"
                if part.spec.speed == "F"
                else f"a fuse of {amp(fuses.next_rating(guard.rating * 1.01))}, if it still"
                " clears a shorted winding, or an inrush limiter ahead of it",
                value=Figure(lasting, "s"),
                limit=rated(held[0], "s", held[1].source, Basis(held[1].basis)),
                state="cold start, mains high",
                working=(f"{rush / guard.rating:.3g} times its rating", *inrush.working),
                rests_on=inrush.rests_on,
            )
            break
        else:
            yield Pass(part.subject, Figure(running, "A"), bound, state.name, inrush.rests_on)
