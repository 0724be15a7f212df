"""Where the mains fuse stands: ahead of everything on the line, and nowhere on earth."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, MainsSide, Pass, Verdicts, cite, rule


@rule(
    title="The mains fuse is missing or stands in the wrong place",
    harm=Harm.FAULT_KILLS,
    why="""
        Whatever stands between the inlet and the fuse burns unprotected when it fails, switches
        and surge suppressors included. A fuse in neutral alone leaves the circuit live when it
        has blown, and one in the earth conductor takes the earth away just when it is needed.
    """,
    sources=[cite("line-fuse"), cite("earth-unbroken")],
)
def fuse_place(design: Design, side: MainsSide) -> Verdicts:
    inlet = side.inlet
    for ref in side.earth_fuses:
        yield Fail(
            about=design.parts[ref].subject,
            says=f"{ref} stands in the protective earth of {inlet.ref}; once blown, 0 earth is left",
            remedy=f"take {ref} out and run 1 unbroken wire in its place",
            harm=Harm.KILLS,
        )
    if side.fuse is None:
        only = f"; {', '.join(side.neutral_fuses)} is in neutral" if side.neutral_fuses else ""
        yield Fail(
            about=inlet.subject,
            says=f"{side.line}, the line conductor from {inlet.ref}, has no fuse{only}",
            remedy=f"move {side.neutral_fuses[0]} to the line conductor, next to {inlet.ref}.L"
            if only
            else f"1 fuse in the line conductor, next to {inlet.ref}",
            others=tuple(design.parts[ref].subject for ref in side.neutral_fuses),
        )
        return
    ahead = {section.part for section in side.unfused}
    for ref in sorted(ahead):
        part = design.parts[ref]
        if ref in side.line_switches:
            says = f"{ref}, a switch, stands in the line ahead of {side.fuse} and is not protected"
        else:
            says = f"{ref} hangs on the line ahead of {side.fuse} and is not protected by it"
        yield Fail(
            about=part.subject,
            says=says,
            remedy=f"put {side.fuse} first after {inlet.ref}, with 0 parts between",
            others=(design.parts[side.fuse].subject,),
        )
    if not ahead:
        yield Pass(about=inlet.subject)
