"""Grids that hang on a capacitor alone."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Open, Pass, Schematic, Verdicts, cite, rule


@rule(
    title="A grid has no dc path to its cathode's side",
    harm=Harm.WEARS,
    why="""
        A grid draws a little current of its own. With no resistance to lead it away the grid
        charges until the tube is cut off or, worse, until it runs away. A coupling capacitor is
        no path; a grid leak, a volume control or a transformer winding is.
    """,
    sources=[cite("grid-return")],
)
def grid_path(design: Design, schematic: Schematic) -> Verdicts:
    every = [
        (part.ref, electrode)
        for part in design.parts.values()
        for electrode in schematic.electrodes(part)
    ]
    for part in design.parts.values():
        if part.tube is not None and part.ends and not part.tube.pins:
            yield Open(part.subject, f"the base of a {part.tube.name}: its pins are not known")
    ground = schematic.ground() | {schematic.metal}
    for ref, grid in every:
        if grid.name != "grid" or grid.net is None:
            continue
        part = design.parts[ref]
        # what holds it: its cathode, ground, or the tube ahead where stages are coupled directly
        held = {net for pin, net in part.ends.items() if _is_cathode(part.tube, pin)} | {
            e.net
            for other, e in every
            if e.name in ("plate", "cathode") and (other, e.section) != (ref, grid.section)
        }
        reached = schematic.dc(grid.net)
        if (reached | schematic.fed(grid.net)) & (held | ground):
            yield Pass(about=part.subject)
            continue
        which = f"grid {grid.section}" if part.tube and len(part.tube.sections) > 1 else "grid"
        blocks = sorted(
            {s.part for net in reached for s in schematic.at(net) if s.body.value == "capacitor"}
        )
        only = f"; only {', '.join(blocks)} leads on" if blocks else ""
        yield Fail(
            about=part.subject,
            says=f"{ref} {which} (pin {grid.pins[0]}, net {grid.net}) has no dc path to its"
            f" cathode{only}",
            remedy=f"a grid leak from {grid.net} to ground, no larger than {ref}'s data sheet allows"
            " (common practice: 220 kohm for an output tube, 1 Mohm for a small triode)",
        )


def _is_cathode(tube: object, pin: str) -> bool:
    name = str(getattr(tube, "pins", {}).get(int(pin), ""))
    return name.startswith("cathode") or name in ("filament", "heater_cathode")
