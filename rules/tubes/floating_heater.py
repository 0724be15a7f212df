"""Heater circuits that float."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Open, Pass, Schematic, Verdicts, cite, rule

CATHODE_TOO = ("filament", "heater_cathode")


@rule(
    title="A heater circuit is referenced to nothing",
    harm=Harm.UNDERPERFORMS,
    why="""
        A floating heater takes its potential from leakage, hums into every cathode, and may sit
        anywhere against the heater-cathode limit. A centre tap, or two equal resistors, tied to
        ground or to a steady voltage, settles both.
    """,
    sources=[cite("heater-reference")],
)
def floating_heater(design: Design, schematic: Schematic) -> Verdicts:
    settled = schematic.ground() | {schematic.metal}
    circuits: dict[frozenset[str], list[str]] = {}
    for section in schematic.sections.values():
        tube = design.parts[section.part].tube
        if section.body.value != "heater" or tube is None:
            continue
        rectifier = all(one.kind == "diode" for one in tube.sections)
        if rectifier and any(tube.pins_of(name) for name in CATHODE_TOO):
            continue  # its heater is its cathode, and so the supply itself
        circuits.setdefault(schematic.dc(section.nets[0]), []).append(section.part)
    for reached, tubes in circuits.items():
        feeds = sorted(
            {s.ref for net in reached for s in schematic.at(net) if s.body.value == "coil"}
        )
        source = schematic.sections[feeds[0]].part if feeds else tubes[0]
        about = design.parts[source].subject
        if reached & settled:
            yield Pass(about=about)
            continue
        if not settled & design.nets.keys():
            yield Open(about, "a net that is ground, to hold its heaters against", ("schematic",))
            continue
        fed = f", fed by {feeds[0]}," if feeds else ""
        yield Fail(
            about=about,
            says=f"{source} leaves the heaters of {', '.join(tubes)}{fed} floating"
            if feeds
            else f"the heaters of {', '.join(tubes)} have no dc path to ground",
            remedy="2 resistors of 100 ohm, one from each heater conductor to ground",
            others=tuple(design.parts[ref].subject for ref in tubes),
        )
