"""Mains transformers with a winding, or the whole of them, overloaded."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Basis,
    Datum,
    Design,
    Fail,
    Figure,
    Harm,
    Open,
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
    title="A mains transformer is overloaded",
    harm=Harm.OVERHEATS,
    why="""
        A rectifier into a capacitor draws its charge in short gulps, and a winding is heated by
        their rms value, well above the dc taken out. A heater winding is loaded by its
        heaters alone and easily counted too small. The primary carries all of it.
    """,
    sources=[cite("part-rating"), cite("winding-rms"), cite("transformer-slack")],
    states=("warm, mains nominal",),
)
def transformer_current(design: Design, warm: Warm) -> Verdicts:
    state, margin = warm.nominal, limit("transformer-slack")
    slack = margin.figure.value
    for part in design.of(kinds.MainsTransformer):
        rating, primary = part.spec.rating, part.spec.primary.whole
        windings = {name: winding.current for name, winding in part.spec.windings.items()}
        windings["primary"] = None if rating is None else rating / primary
        for name, most in windings.items():
            # a section of each tap, at most eight
            coils = (f"{part.ref}.{name}{at}" for at in ("", *(f".{n}" for n in range(1, 9))))
            loads = [state.rms_amperes(coil) for coil in coils if state.knows(coil)]
            if not loads:
                continue
            value, what = Figure(max(loads), "A"), f"the {name} winding of {part.ref}"
            if most is None:
                datum = f"rated current of {what}" if name != "primary" else f"VA of {part.ref}"
                key = ("windings", name, "current") if name != "primary" else ("rating",)
                yield Open(part.subject, datum, (*part.path, *key))
                continue
            text = f"rating of {what}, {slack - 1.0:.0%} over as at its type test"
            bound = rated(slack * most, "A", text, Basis.DECLARED)
            if value.value <= bound.figure.value:
                rests_on = state.rests_on
                if value.value > most:  # only the slack clears it
                    rests_on += (Datum("the slack of a type test", margin.source.basis),)
                yield Pass(part.subject, value, bound, state.name, rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"{what} carries {amp(value.value)} rms, rated {amp(most)}",
                remedy=f"a winding rated {amp(value.value)} or more, or less load on it",
                value=value,
                limit=bound,
                state=state.name,
                working=(f"primary rating: {rating or 0.0:.3g} VA / {primary:.3g} V",)
                if name == "primary"
                else (),
                rests_on=state.rests_on,
            )
