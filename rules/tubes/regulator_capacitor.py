"""Gas-filled regulators with so much capacitance across them that they oscillate."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    cite,
    farad,
    kinds,
    known,
    rule,
)


@rule(
    title="A gas-filled regulator has too large a capacitor across it",
    harm=Harm.UNDERPERFORMS,
    why="""
        A glow needs more to light than to burn. With a capacitor across it that holds enough
        charge the tube discharges it, goes out, and waits until it is charged again: a saw-tooth
        on the supply that was to be steadied.
    """,
    sources=[cite("tube-ratings")],
)
def regulator_capacitor(design: Design, ratings: Ratings) -> Verdicts:
    for part in design.of(kinds.Tube):
        pins = {e: part.tube.pins_of(e) for e in ("anode", "cathode")} if part.tube else {}
        nets = {e: {part.net(str(pin)) for pin in own} - {None} for e, own in pins.items()}
        if not all(nets.get(e) for e in ("anode", "cathode")):
            continue
        ends = nets["anode"] | nets["cathode"]
        own = [c for c in design.of(kinds.Capacitor) if {*c.ends.values()} == ends]
        if not own:
            continue
        most = known(ratings.of_tube, part, "shunt_farads", "capacitance")
        across = Figure(sum(c.spec.value for c in own), "F")
        if isinstance(most, Open):
            yield most
        elif across.value <= most.figure.value:
            yield Pass(part.subject, across, most)
        else:
            yield Fail(
                about=part.subject,
                says=f"{part.ref} has {farad(across.value)} across it, and bears"
                f" {farad(most.figure.value)}",
                remedy=f"{farad(most.figure.value)} at most, or a resistor of 100 ohm or more"
                " between the two",
                value=across,
                limit=most,
                others=tuple(c.subject for c in own),
            )
