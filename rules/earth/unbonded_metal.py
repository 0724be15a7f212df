"""Metal a person can touch that protective earth does not reach."""

from __future__ import annotations

from coldcheck.lint.rulekit import Exposed, Fail, Harm, Pass, Verdicts, cite, rule


@rule(
    title="Metal that can be touched is not bonded to protective earth",
    harm=Harm.KILLS,
    why="""
        When mains insulation fails, the metal it touches becomes live. Only a conductor that is
        always there, from that metal to the earth pin, blows the fuse before a hand finds it.
        A switch, a fuse, a resistor or a signal wire in that path is not always there.
    """,
    sources=[cite("earth-path"), cite("earth-unbroken")],
)
def unbonded_metal(exposed: Exposed) -> Verdicts:
    for way in exposed.ways:
        if way.earthed is not None:
            yield Pass(about=way.metal.subject)
    for ways in exposed.adrift:
        first, names = ways[0], [way.metal.reads for way in ways]
        how = "by nothing"
        if first.conducting is not None:
            by = dict.fromkeys(link.subject.name for link in first.unfit)
            how = f"only through signal wiring: {', '.join(by)}"
        elif first.parts:
            how = f"only through {', '.join(first.parts)}, which can open or burn out"
        elif exposed.inlet.net("PE") is None:
            how = f"by nothing: {exposed.pin} is on no net"
        with_it = f", with {len(ways) - 1} pieces screwed to it," if len(ways) > 1 else ""
        yield Fail(
            about=first.metal.subject,
            says=f"{names[0].removeprefix('the ')}{with_it} is joined to {exposed.pin} {how}",
            remedy=f"a green/yellow wire of its own from {exposed.pin} to a lug on {names[0]},"
            " under its own screw, and at most 0.1 ohm in all",
            working=(f"without earth: {', '.join(names)}", *(k.reads for k in first.unfit)),
            others=(*(way.metal.subject for way in ways[1:]), exposed.inlet.subject),
        )
