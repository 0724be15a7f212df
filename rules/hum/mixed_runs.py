"""Input wires that lie beside wires which hum, or which carry the output."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Runs,
    Verdicts,
    cite,
    limit,
    metre,
    rule,
)


@rule(
    title="Input wiring runs beside wiring that hums or carries the output",
    harm=Harm.UNDERPERFORMS,
    why="""
        Two wires side by side are a capacitor and a transformer. Beside mains, rectifier or
        untwisted heater wires the input picks up hum, and beside the output's it closes a loop
        that nobody designed and may howl. A screened input lead is not judged, nor a heater pair
        that is twisted.
    """,
    sources=[cite("beside")],
)
def mixed_runs(design: Design, runs: Runs) -> Verdicts:
    most = limit("beside")
    for ref in runs.unplaced if runs.quiet and runs.loud else ():
        yield Open(design.parts[ref].subject, f"a place in [layout] for {ref}", ("layout",))
    for wire in runs.quiet if runs.loud else ():
        near = [r for r in runs.beside if r.quiet == wire]
        near = [r for r in near if not (r.twisted and r.carries == "a heater")]
        long = [r for r in near if r.length > most.figure.value]
        for run in long:
            yield Fail(
                about=wire.subject,
                says=f"{wire.ref}, of the input, runs beside {run.loud.ref}, which carries"
                f" {run.carries}, for {metre(run.length)}",
                remedy=f"lead {run.loud.ref} another way, so that {metre(most.figure.value)} at the"
                f" most lie beside {wire.ref}, or take a screened lead for {wire.ref}",
                value=Figure(run.length, "m"),
                limit=most,
                others=(run.loud.subject,),
                working=(
                    f"both straight between the parts they join, within 25 mm of each other; the"
                    f" least is {metre(run.apart)}",
                ),
            )
        if not long:
            length = max((r.length for r in near), default=0.0)
            yield Pass(wire.subject, Figure(length, "m"), most)
