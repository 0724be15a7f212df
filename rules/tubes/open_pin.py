"""Electrodes and heaters of tubes that the schematic leaves open."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Open, Pass, Schematic, Verdicts, cite, rule

HEATED = ("heater", "filament", "heater_cathode")


@rule(
    title="An electrode of a tube is left open",
    harm=Harm.UNDERPERFORMS,
    why="""
        An electrode on no net takes whatever charge reaches it; the stage does not work, or
        works until the tube is changed. Most often a pin was read off the wrong base drawing.
    """,
    sources=[cite("tube-ratings"), cite("all-terminals")],
)
def open_pin(design: Design, schematic: Schematic) -> Verdicts:
    for part in design.parts.values():
        if part.tube is None or not part.ends:
            continue
        if not part.tube.pins:
            yield Open(part.subject, f"the base of a {part.tube.name}: its pins are not known")
            continue
        wrong: list[tuple[str, Harm | None]] = []
        electrodes = schematic.electrodes(part)
        for section in part.tube.sections:
            own = [e for e in electrodes if e.section == section.number]
            loose = [f"{e.name} (pin {e.pins[0]})" for e in own if e.net is None]
            if loose and len(loose) == len(own) and len(part.tube.sections) > 1:
                says = f"section {section.number} of {part.ref} is not used: {', '.join(loose)}"
                wrong.append((says, Harm.UNTIDY))
            elif loose:
                wrong.append((f"{part.ref} has its {', '.join(loose)} on no net", None))
        heated = [pin for name in HEATED for pin in part.tube.pins_of(name)]
        cold = [str(pin) for pin in heated if str(pin) not in part.ends]
        fed = {part.ends.get(str(pin)) for pin in (*heated, *part.tube.pins_of("heater_tap"))}
        if cold:
            wrong.append((f"{part.ref} has heater pin {', '.join(cold)} on no net", None))
        elif heated and len(fed - {None}) < 2:
            wrong.append((f"{part.ref} has all of its heater on 1 net, so it stays cold", None))
        for says, harm in wrong:
            idle = harm is Harm.UNTIDY
            yield Fail(
                about=part.subject,
                says=says,
                remedy="tie its electrodes to ground through 1 wire, or take a single tube"
                if idle
                else f"take the pins of {part.tube.name} from its base drawing and add the net",
                harm=harm,
            )
        if not wrong:
            yield Pass(about=part.subject)
