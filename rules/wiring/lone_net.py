"""Nets with one terminal: most often a name misspelt."""

from __future__ import annotations

import difflib

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Schematic, Verdicts, cite, rule


@rule(
    title="A net has only one terminal",
    harm=Harm.UNTIDY,
    why="""
        A net that joins nothing to nothing is a name misspelt, or a part that was taken out and
        left its neighbour behind.
    """,
    sources=[cite("all-terminals")],
)
def lone_net(design: Design, schematic: Schematic) -> Verdicts:
    for net, ends in design.nets.items():
        if net == schematic.metal:
            continue
        if len(ends) > 1:
            yield Pass(about=design.net_subject(net))
            continue
        ref, terminal = ends[0]
        winding = terminal.partition(".")[0] + "."
        used = [
            end
            for end, other in design.parts[ref].ends.items()
            if end.startswith(winding) and len(design.nets[other]) > 1
        ]
        # a secondary's tap that is not used, written down under its name
        if len(used) > 1 and winding != "primary.":
            yield Pass(about=design.net_subject(net))
            continue
        # the same net of the other channel, or the next by number, is as like as can be: not meant
        others = [other for other in design.nets if other[:-1] != net[:-1]]
        near = difflib.get_close_matches(net, others, 1)
        hint = f'if "{near[0]}" is meant, write that; else ' if near else ""
        yield Fail(
            about=design.net_subject(net),
            says=f"{net} joins {ref}.{terminal} to nothing: it has 1 terminal",
            remedy=f"{hint}add the terminal it should reach, or take it out",
            others=(design.parts[ref].subject,),
        )
