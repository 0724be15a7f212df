"""Signal ground that floats: no dc path from it to the chassis."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Open, Pass, Schematic, Verdicts, cite, rule


@rule(
    title="Signal ground has no dc path to the chassis",
    harm=Harm.FAULT_KILLS,
    why="""
        With nothing to hold it, the whole secondary side takes whatever potential leakage gives
        it, and when the transformer's insulation fails it takes the mains. Only a dc path from
        signal ground to the earthed chassis makes that fault blow the fuse.
    """,
    sources=[cite("one-chassis-link"), cite("isolation")],
)
def no_chassis_link(design: Design, schematic: Schematic) -> Verdicts:
    reached, ground = schematic.dc(schematic.metal), schematic.ground()
    if not ground:
        datum = "which net is signal ground: an electrolytic capacitor with its - on it"
        yield Open(design.subject, datum, ("schematic",))
    for net in sorted(ground):
        about = design.net_subject(net)
        if net in reached:
            yield Pass(about=about)
            continue
        yield Fail(
            about=about,
            says=f"{net}, signal ground, has no dc path to the chassis in the schematic",
            remedy=f"1 wire from {net} to a chassis bond, at the input or at the first reservoir",
        )
