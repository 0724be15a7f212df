"""Nets the schematic keeps apart and the wiring joins."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Realised, Verdicts, cite, rule


@rule(
    title="The wiring joins nets that the schematic keeps apart",
    harm=Harm.KILLS,
    why="""
        Two leads on one lug are one net, whatever the drawing says. A high-voltage lead on a
        heater lug, or a foot of a strip used as a tie point, is a short as soon as it is
        switched on. Where it takes the mains past its fuse or onto anything else, or the high
        voltage to a connector, it kills.
    """,
    sources=[cite("realise")],
)
def joined_nets(design: Design, realised: Realised) -> Verdicts:
    for merged in realised.merged:
        a, b = merged.nets[:2]
        by = [link.subject.name for link in merged.way]
        names = ", ".join(dict.fromkeys(by)) or "a lug they share"
        way = tuple(link.reads for link in merged.way)
        yield Fail(
            about=design.net_subject(a),
            says=f"{a} and {' and '.join(merged.nets[1:])} are joined, by way of {names}",
            remedy=f"move 1 of these so that {a} and {b} stay apart: {'; '.join(way)}; or, where"
            " they are meant to be 1 net, give them 1 name in [schematic]",
            others=tuple(design.net_subject(net) for net in merged.nets[1:]),
            working=way,
            harm=None if merged.deadly else Harm.FAULT_KILLS if merged.mains else Harm.WEARS,
        )
    joined = {net for merged in realised.merged for net in merged.nets}
    for net in sorted(design.nets.keys() - joined):
        yield Pass(about=design.net_subject(net))
