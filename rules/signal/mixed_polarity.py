"""Amplifiers of which one channel pushes while the other pulls."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Harm,
    Pass,
    Signal,
    Verdicts,
    cite,
    rule,
)


@rule(
    title="One channel pushes while the other pulls",
    harm=Harm.UNDERPERFORMS,
    why="""
        An amplifier may turn the signal over or not; nobody hears it as long as both channels do
        alike. Where they do not, the bass of two loudspeakers cancels. It is looked for between the
        contacts that a loudspeaker or the next amplifier is on, in the order they are written.
    """,
    sources=[cite("polarity")],
    states=("warm, mains nominal",),
)
def mixed_polarity(design: Design, signal: Signal) -> Verdicts:
    inverted = {out.ref: signal.inverts(out) for out in signal.outputs}
    first = next(iter(inverted), "")
    for ref, turned in inverted.items():
        part = design.parts[ref]
        if turned == inverted[first]:
            if len(inverted) > 1:
                yield Pass(part.subject, state=signal.state.name)
            continue
        a, b = part.spec.terminals()[0], part.spec.terminals()[-1]
        yield Fail(
            about=part.subject,
            says=f"{ref} {'turns' if turned else 'does not turn'} the signal over and {first}"
            f" {'does not' if turned else 'does'}",
            remedy=f"exchange {a} and {b} of {ref}, unless feedback is taken there: then both ends"
            " of its transformer's primary as well",
            state=signal.state.name,
        )
