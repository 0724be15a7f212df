"""Mains fuses too large for what they feed."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Fuses,
    Harm,
    MainsSide,
    Pass,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    limit,
    rated,
    rule,
)


@rule(
    title="The mains fuse is larger than practice allows",
    harm=Harm.FAULT_KILLS,
    why="""
        A fuse guards against faults that draw a few times the running current for minutes: a
        shorted tube, a failing capacitor, shorted turns. Each step up in rating lets more of them
        cook the transformer. Practice is one and a half to two times the running current, then the
        next standard rating up.
    """,
    sources=[cite("fuse-choice"), cite("fuse-list")],
    states=("warm, mains nominal",),
)
def fuse_overrated(design: Design, fuses: Fuses, mains: MainsSide, warm: Warm) -> Verdicts:
    most = limit("fuse-share")
    for part in fuses.all:
        if part.ref not in mains.line_fuses:
            continue
        state = warm.nominal
        running = state.rms_amperes(part.ref) if state.knows(part.ref) else 0.0
        if running < 1e-6:
            continue  # it feeds nothing
        carries, rests_on = f"carries {amp(running)}", state.rests_on
        # class AB draws more at full drive, which is not computed: what the transformer is made
        # for stands for it
        made_for = sum(part.spec.rating or 0.0 for part in design.of(kinds.MainsTransformer))
        full = made_for / design.document.site.mains.voltage
        if full > running and any(t.spec.centre_tap for t in design.of(kinds.OutputTransformer)):
            running, rests_on = full, ()
            carries += f"; its transformer is made for {amp(full)}"
        twice = most.figure.value * running
        enough = fuses.next_rating(twice)
        if math.isinf(enough):  # past the list; no rating must not let any pass
            enough = twice
        value, source = Figure(part.spec.current, "A"), most.source
        bound = rated(enough, "A", source.text, source.basis)
        if part.spec.current <= enough * 1.001:
            yield Pass(part.subject, value, bound, state.name, rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} is rated {amp(part.spec.current)} and {carries}",
            remedy=f"a fuse of {amp(enough)}",
            value=value,
            limit=bound,
            state=state.name,
            working=(f"2 x {amp(running)}, then the next standard rating: {amp(enough)}",),
            rests_on=rests_on,
        )
