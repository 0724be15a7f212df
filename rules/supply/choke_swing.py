"""Chokes that swing for long against their capacitors."""

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
    kinds,
    limit,
    ohm,
    rule,
)


@rule(
    title="A choke swings for long against its capacitors",
    harm=Harm.UNDERPERFORMS,
    why="""
        A choke and the capacitors beside it are a tuned circuit at a few hertz. Every change of the
        load, a drum as well as a bump of the mains, sets it going, and only the resistance of
        winding and rectifier and the load itself quiet it. With a high Q the supply, and a bias
        fed from it, sways for seconds. What it does at switch-on another rule holds to ratings.
    """,
    sources=[cite("filter-swing"), cite("choke-q")],
    states=("warm, mains nominal",),
)
def choke_swing(design: Design, slow: SlowModes) -> Verdicts:
    most, state = limit("choke-q"), slow.state
    for part in design.of(kinds.Choke):
        mode = slow.of_choke(part.ref) if state.knows(part.ref) else None
        if mode is None or mode.unstable:
            continue  # damped through and through, or kept up by a tube: another rule's
        value = Figure(0.5 / mode.damping, "x")
        if value.value <= most.figure.value:
            yield Pass(part.subject, value, most, state.name, slow.rests_on)
            continue
        reactance = 2.0 * 3.14159 * mode.hertz * part.spec.inductance
        more = 2.0 * (0.5 / most.figure.value - mode.damping) * reactance
        yield Fail(
            about=part.subject,
            says=f"{part.ref} swings at {mode.hertz:.2g} Hz with a Q of {value.value:.2g}",
            remedy=f"{ohm(more)} in series with it, or as much more in its winding",
            value=value,
            limit=most,
            state=state.name,
            working=(f"with {', '.join(ref for ref in mode.shares if ref != part.ref)}",),
            rests_on=slow.rests_on,
        )
