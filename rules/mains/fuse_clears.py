"""Faults that no fuse clears in time."""

from __future__ import annotations

import math

from coldcheck.lint.rulekit import (
    Fail,
    Faults,
    Figure,
    Fuses,
    Harm,
    Pass,
    Verdicts,
    amp,
    cite,
    limit,
    rule,
    seconds,
)


@rule(
    title="No fuse clears a shorted winding, rectifier or reservoir in time",
    harm=Harm.FAULT_KILLS,
    why="""
        A small transformer limits its own fault current by its resistance, often to less than a
        generous fuse will ever open at. Then a shorted rectifier or capacitor cooks it until it
        burns, and so does a heater winding pinched under a bracket. Judged with the mains low and
        the slowest fuse its marking allows; a fault that overloads no winding needs no fuse.
    """,
    sources=[cite("fuse-gates"), cite("fuse-two-minutes"), cite("transformer-slack")],
    states=("one part shorted, mains low",),
)
def fuse_clears(faults: Faults, fuses: Fuses) -> Verdicts:
    allowed, slack = limit("fault-clearing-time"), limit("transformer-slack")
    uncleared: dict[str, list[tuple[float, float, Fail]]] = {}
    for case in faults.cases:
        if max(case.primary.values(), default=0.0) < 1e-3:
            continue  # a transformer that is not fed
        state = f"{case.name}, mains low"
        if case.load is not None and case.load <= slack.figure.value:
            within = Figure(case.load, "x")
            yield Pass(case.about, within, slack, state, faults.rests_on)
            continue
        best: tuple[float, str, str] | None = None
        rests_on = faults.rests_on
        for ref, current in case.through.items():
            guard = fuses.guard(ref)
            opened = guard.opens_within(current)
            wait, gate = opened if opened is not None else (math.inf, None)
            said = "no gate promises that it opens" if gate is None else f"{gate.multiple:g} x gate"
            if best is None or wait < best[0]:
                best = wait, ref, said
                rests_on = faults.rests_on + (guard.rests_on(gate) if gate is not None else ())
        if best is None:
            continue  # that there is no fuse at all is for another rule to say
        wait, ref, said = best
        if wait <= allowed.figure.value:
            yield Pass(case.about, Figure(wait, "s"), allowed, state, rests_on)
            continue
        current, guard = case.through[ref], fuses.guard(ref)
        smaller = fuses.rating_below(current / guard.opens_by(allowed.figure.value))
        lasts = "for good" if math.isinf(wait) else f"for as long as {seconds(wait)}"
        fail = Fail(
            about=case.about,
            says=f"with {case.name} {ref} carries {amp(current)}, {current / guard.rating:.3g} times"
            f" its rating, and may stay whole {lasts}",
            remedy=f"a fuse of {amp(smaller)} or less for {ref}, or one of its own in the secondary"
            " if that does not carry the running current",
            value=Figure(wait, "s"),
            limit=allowed,
            state=state,
            others=(guard.part.subject,),
            working=(f"{amp(current)} / {amp(guard.rating)}: {said}", *case.working),
            rests_on=rests_on,
        )
        uncleared.setdefault(str(case.about), []).append((wait, -current, fail))
    for found in uncleared.values():  # of the windings of one transformer the worst
        *others, (_wait, _current, worst) = sorted(found, key=lambda each: each[:2])
        too = tuple(f"as little is done for: {fail.state}" for *_key, fail in others)
        yield worst._replace(working=worst.working + too)
