"""Schematics without wiring in which protective earth does not reach the chassis."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Schematic, Verdicts, cite, kinds, rule


@rule(
    title="The schematic shows no protective earth",
    harm=Harm.KILLS,
    why="""
        When mains insulation fails, metal that is not earthed becomes live. Whoever wires from a
        schematic wires what it shows: the earth pin of the inlet, joined to the chassis by a bond
        and nothing else. Once the wiring is written the wires themselves are judged instead.
    """,
    sources=[cite("earth-path"), cite("earth-unbroken")],
)
def not_drawn(design: Design, schematic: Schematic) -> Verdicts:
    if design.has_wiring:
        return
    for inlet in design.of(kinds.MainsEntry):
        earth = inlet.net("PE")
        solid = schematic.reach(schematic.metal, lambda section: section.body.value == "metal")
        if earth in solid:
            yield Pass(about=inlet.subject)
            continue
        way = schematic.path(earth, schematic.metal, lambda s: True) if earth is not None else ()
        steps = [step for step in way if not isinstance(step, str)]
        if any(step.body.value == "fuse" for step in steps):
            continue  # a fuse in the earth is another rule's
        parts = [step.part for step in steps if step.body.value != "metal"]
        if earth is None:
            how = "is on no net"
        elif parts:
            how = f"reaches the chassis only through {', '.join(dict.fromkeys(parts))}"
        else:
            how = f"leads to {earth}, which does not reach the chassis"
        yield Fail(
            about=inlet.subject,
            says=f"{inlet.ref}.PE, the earth pin, {how}",
            remedy=f"1 chassis bond with a screw of its own on the net of {inlet.ref}.PE",
        )
