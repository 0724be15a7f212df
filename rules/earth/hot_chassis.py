"""Ways from the mains to something a hand can touch, past every isolation."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    MainsSide,
    Pass,
    Verdicts,
    amp,
    cite,
    limit,
    rule,
)


@rule(
    title="The mains has a conductive way to something that can be touched",
    harm=Harm.KILLS,
    why="""
        Line and neutral change places in a turned plug or a miswired socket, so neither may
        reach the chassis, signal ground or a connector. Only a transformer's separate windings
        or a class Y capacitor, made to fail open, may stand between. A plain or class X
        capacitor fails shorted, a dropping resistor and a shared winding conduct always.
    """,
    sources=[cite("isolation"), cite("touch-current")],
)
def hot_chassis(design: Design, side: MainsSide) -> Verdicts:
    mains, bound = design.document.site.mains, limit("touch-current")
    for escape in side.escapes:
        first = escape.by or next(iter(escape.sections), None)
        net = str(escape.way[0])
        if first is None:
            about = design.net_subject(net)
            says = f"{net}, the {escape.pole} conductor, is at the same time {escape.touched}"
        else:
            about = design.parts[first.part].subject
            before = dict.fromkeys(s.ref for s in escape.sections if s.part != first.part)
            through = f", by way of {', '.join(before)}" if before else ""
            says = f"{first.part} lets {escape.pole} out to {escape.touched}{through}"
        remedy = f"cut it, and feed the circuit from a winding that shares no net with {net}"
        if escape.amperes is not None:
            passed = f"{amp(escape.amperes)} at {mains.voltage:g} V {mains.frequency:g} Hz"
            remedy = (
                f"take {first.part if first else net} out, or fit one of class Y; as drawn it"
                f" passes {passed}, and {amp(bound.figure.value)} is the most"
            )
        yield Fail(
            about=about,
            says=says,
            remedy=remedy,
            value=Figure(escape.amperes, "A") if escape.amperes is not None else None,
            others=(side.inlet.subject,),
            working=(" - ".join(getattr(step, "ref", str(step)) for step in escape.way),),
        )
    if not side.escapes:
        yield Pass(about=side.inlet.subject)
