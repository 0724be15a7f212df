"""Transformers whose primary is made for another mains."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    MainsSide,
    Pass,
    Verdicts,
    cite,
    kinds,
    limit,
    rated,
    rule,
    volt,
)


@rule(
    title="A primary is made for another mains voltage",
    harm=Harm.OVERHEATS,
    why="""
        Above the voltage it is wound for a core saturates: the primary draws many times its
        current and burns, and every secondary gives too much. Below it everything runs low. A
        transformer from another country, or a tap for 220 V on 240 V mains, is soon bought. Of a
        primary in sections two joined the wrong way round cancel each other, and only the fuse
        stands between the mains and a shorted winding.
    """,
    sources=[cite("mains-margin"), cite("part-rating")],
    states=("mains nominal",),
)
def primary_voltage(design: Design, side: MainsSide) -> Verdicts:
    mains, margin = design.document.site.mains.voltage, limit("mains-margin")
    for part in design.of(kinds.MainsTransformer):
        if part.ref not in side.primaries:
            continue
        if part.ref in side.opposed:
            yield Fail(
                about=part.subject,
                says=f"sections of the primary of {part.ref} work against each other, and short"
                f" {volt(mains)} of mains",
                remedy="exchange the 2 ends of one of them, or join alike sections only: in series for"
                f" {volt(part.spec.primary.whole)} in all",
                state="mains nominal",
                harm=Harm.FAULT_KILLS,
            )
            continue
        due = side.made_for[part.ref]
        over = mains >= due
        edge = due * (1.0 + (1.0 if over else -1.0) * margin.figure.value)
        bound = rated(edge, "V", margin.source.text, margin.source.basis, most=over)
        if abs(mains - due) <= margin.figure.value * due * 1.001:
            yield Pass(part.subject, Figure(mains, "V"), bound, "mains nominal")
            continue
        yield Fail(
            about=part.subject,
            says=f"the primary of {part.ref} is made for {volt(due)}, the mains is {volt(mains)}",
            remedy=f"a primary, or a tap of it, for {volt(mains)}",
            value=Figure(mains, "V"),
            limit=bound,
            state="mains nominal",
            harm=None if over else Harm.UNDERPERFORMS,
        )
