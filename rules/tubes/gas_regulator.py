"""Gas-filled regulators outside their current, or fed too little to strike."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Schematic,
    States,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    known,
    rule,
    volt,
    weak,
)


@rule(
    title="A gas-filled regulator does not regulate, or is overrun",
    harm=Harm.WEARS,
    why="""
        Below its least current the glow goes out, above its greatest the cathode is spent. It
        takes what its load leaves: least with the mains low, most with it high or a load switched
        off. To light it at all it needs more than it then holds, with the load already drawing.
    """,
    sources=[cite("tube-ratings"), cite("strike")],
    states=("warm, mains low", "warm, mains high", "every standing of the switches"),
)
def gas_regulator(
    design: Design, schematic: Schematic, ratings: Ratings, states: States, warm: Warm
) -> Verdicts:
    for part in design.of(kinds.Tube):
        if part.tube is None or not states.knows(part.ref):
            continue
        if all(section.kind != "regulator" for section in part.tube.sections):
            continue
        low, most = warm.low, states.dc_amperes(part.ref)
        drawn = abs(low.mean_amperes(part.ref))
        anode = next(e.net for e in schematic.electrodes(part) if e.name == "anode") or ""
        cathode = next(e.net for e in schematic.electrodes(part) if e.name == "cathode") or ""
        cases = [
            (Figure(drawn, "A"), "regulator_amperes_least", "least current", low.name),
            (Figure(most.value, "A"), "regulator_amperes_most", "greatest current", most.state),
        ]
        for ohms, far in _feeds(design, schematic, part.ref, anode):
            if low.volts(far) > low.volts(anode):
                dark = low.over(anode, cathode) + drawn * ohms
                cases.append((Figure(dark, "V"), "starting_volts", "striking voltage", low.name))
        for value, key, words, state in cases:
            found = known(ratings.of_tube, part, key, words)
            if isinstance(found, Open):
                yield found
                continue
            bound = found._replace(most=key == "regulator_amperes_most")
            over = value.value > bound.figure.value
            rests_on = low.rests_on + weak(bound, f"the {words} of a {part.spec.type}")
            if over is not bound.most:
                yield Pass(part.subject, value, bound, state, rests_on)
                continue
            said = amp if value.unit == "A" else volt
            yield Fail(
                about=part.subject,
                says=f"{part.ref} has {said(value.value)}, {words} {said(bound.figure.value)}",
                remedy=f"{REMEDIES[key]} {said(bound.figure.value)}",
                value=value,
                limit=bound,
                state=state,
                rests_on=rests_on,
                harm=None if key == "regulator_amperes_most" else Harm.UNDERPERFORMS,
            )


REMEDIES = {
    "regulator_amperes_least": "a smaller resistor ahead of it, or less load: at least",
    "regulator_amperes_most": "a larger resistor ahead of it: at most",
    "starting_volts": "a higher supply and a larger resistor, so that before it lights it has",
}


def _feeds(
    design: Design, schematic: Schematic, ref: str, anode: str
) -> Iterator[tuple[float, str]]:
    """Resistors on its anode with the net beyond each."""
    for section in schematic.at(anode):
        spec = design.parts[section.part].spec
        if isinstance(spec, kinds.Resistor) and len(section.nets) == 2:
            yield spec.value, next(net for net in section.nets if net != anode)
