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
        metal, wires = way.metal, []
        if way.earthed is not None:
            yield Pass(about=metal.subject)
            continue
        if way.conducting is not None:
            wires = [link.reads for link in way.conducting if link.wire is not None]
            how = f"only through signal wiring: {', '.join(wires)}"
        elif way.parts:
            how = f"only through {', '.join(way.parts)}, which can open or burn out"
        elif exposed.inlet.net("PE") is None:
            how = f"by no way: {exposed.pin} is on no net"
        else:
            how = "by no way"
        yield Fail(
            about=metal.subject,
            says=f"{metal.reads.removeprefix('the ')} is joined to {exposed.pin} {how}",
            remedy=f"a green/yellow wire of its own from {exposed.pin} to a lug on {metal.reads},"
            " under its own screw, and at most 0.1 ohm in all",
            working=tuple(wires),
            others=(exposed.inlet.subject,),
        )
