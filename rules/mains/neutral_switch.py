"""Mains switches that leave the line connected."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, MainsSide, Pass, Verdicts, cite, rule


@rule(
    title="A mains switch breaks only neutral",
    harm=Harm.FAULT_KILLS,
    why="""
        With neutral open and line connected the thing is silent and looks off, yet the fuse, the
        switch and the whole primary stay at mains potential for whoever opens it.
    """,
    sources=[cite("pole-switching")],
)
def neutral_switch(design: Design, side: MainsSide) -> Verdicts:
    for ref in dict.fromkeys((*side.line_switches, *side.neutral_switches)):
        if ref in side.line_switches:
            yield Pass(about=design.parts[ref].subject)
            continue
        yield Fail(
            about=design.parts[ref].subject,
            says=f"{ref} breaks {side.neutral}, the neutral, and leaves {side.line} connected",
            remedy=f"move {ref} to the line conductor, or fit a switch of 2 poles",
            others=(side.inlet.subject,),
        )
