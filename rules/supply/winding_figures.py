"""Transformer windings whose figures contradict each other."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Verdicts,
    cite,
    kinds,
    limit,
    rule,
    volt,
)


@rule(
    title="The figures of a winding contradict each other",
    harm=Harm.UNDERPERFORMS,
    why="""
        What a winding gives without load, less what its own wire and the primary's lose at the
        rated current, is what its nameplate says. Where it is not, one of the figures is wrong: a
        digit, a resistance measured with the leads in it, or volts taken at another mains. All
        computed voltages stand on them. How far it falls from no load to full is told.
    """,
    sources=[cite("winding-figures")],
)
def winding_figures(design: Design) -> Verdicts:
    most = limit("winding-figures")
    for part in design.of(kinds.MainsTransformer):
        primary = part.spec.primary
        if part.spec.rating is None or primary.resistance is None:
            continue
        # every winding at its rating, the primary carries all of it
        kept = 1.0 - part.spec.rating * sum(primary.resistance) / primary.whole**2
        for name, winding in part.spec.windings.items():
            given, ohms, amperes = winding.no_load, winding.resistance, winding.current
            if given is None or ohms is None or amperes is None:
                continue
            # halves take turns: each falls by its own wire
            loaded = [v * kept - amperes * r for v, r in zip(given, ohms, strict=True)]
            pairs = list(zip(loaded, winding.voltage, strict=True))
            found, rated = max(pairs, key=lambda pair: abs(pair[0] / pair[1] - 1.0))
            off = Figure(abs(found / rated - 1.0), "%")
            falls = f"falls by {1.0 - sum(loaded) / sum(given):.1%} from no load to full"
            if off.value <= most.figure.value:
                yield Pass(part.subject, off, most)
                continue
            yield Fail(
                about=part.subject,
                says=f"the {name} winding of {part.ref} comes to {volt(found)} at its rated load,"
                f" marked {volt(rated)}",
                remedy=f"measure it again without load, or its {sum(ohms):.3g} ohm",
                value=off,
                limit=most,
                working=(f"{volt(max(given))} without load {falls}",),
            )
