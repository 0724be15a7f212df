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
    States,
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
        heaters alone and easily counted too small. The primary carries all of it. An amplifier's is
        heated by music, which asks an eighth of what a sine at clipping does: past a rating with
        that sine only, the word is NOTICE, and what is played on decides.
    """,
    sources=[
        cite("part-rating"),
        cite("winding-rms"),
        cite("transformer-slack"),
        cite("eighth-power"),
    ],
    states=("warm, mains nominal", "full drive, mains nominal"),
)
def transformer_current(design: Design, warm: Warm, states: States) -> Verdicts:
    margin = limit("transformer-slack")
    slack = margin.figure.value
    for part in design.of(kinds.MainsTransformer):
        rating, primary = part.spec.rating, part.spec.primary.whole
        windings = {name: winding.current for name, winding in part.spec.windings.items()}
        windings["primary"] = None if rating is None else rating / primary
        for name, most in windings.items():
            sections = ("", *(f".{at}" for at in range(1, 9)))  # between taps, each a coil
            coils = [c for at in sections if warm.nominal.knows(c := f"{part.ref}.{name}{at}")]
            if not coils:
                continue
            what = f"the {name} winding of {part.ref}"
            if most is None:
                datum = f"rated current of {what}" if name != "primary" else f"VA of {part.ref}"
                key = ("windings", name, "current") if name != "primary" else ("rating",)
                yield Open(part.subject, datum, (*part.path, *key))
                continue
            text = f"rating of {what}, {slack - 1.0:.0%} over as at its type test"
            bound = rated(slack * most, "A", text, Basis.DECLARED)
            # at nominal mains full drive asks less than at the highest
            played = any(
                high.rms_amperes(coil) > bound.figure.value
                for high in states.driven[-1:]
                for coil in coils
            )
            loads = {
                state: max(state.rms_amperes(coil) for coil in coils)
                for state in (warm.nominal, *(states.played if played else ()))
            }
            state = max(loads, key=lambda one: loads[one])
            value = Figure(loads[state], "A")
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
                harm=Harm.UNDERPERFORMS if loads[warm.nominal] <= bound.figure.value else None,
            )
