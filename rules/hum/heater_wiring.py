"""Heater wires that are not twisted, or grounded at one side, at the tube an input leads to."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    HeaterCoupling,
    Open,
    Pass,
    Verdicts,
    cite,
    limit,
    rule,
    volt,
)


@rule(
    title="Heater wires hum at the first grid",
    harm=Harm.UNDERPERFORMS,
    why="""
        A heater's two ends swing against each other: twisted, and with their middle at ground, they
        cancel at a grid nearby but for a little. With one end grounded nothing cancels, and what
        wires and bulb bring to the grid by their capacitance is amplified by all that follows. A
        heater winding tied to nothing is another rule's concern.
    """,
    sources=[cite("heater-wiring"), cite("heater-hum")],
    states=("warm, mains nominal",),
)
def heater_wiring(design: Design, heaters: HeaterCoupling) -> Verdicts:
    most = limit("heater-hum")
    first = [h for h in heaters.stages if h.first]
    for part in dict.fromkeys(h.stage.part.subject for h in first):
        own = [h for h in first if h.stage.part.subject == part]
        worst = max(own, key=lambda h: h.volts - h.best)
        heard = Figure(worst.volts - worst.best, "V")
        grounded = worst.reference == "one side grounded"
        if heard.value <= most.figure.value or not (grounded or not worst.twisted):
            yield Pass(part, heard, most, "warm, mains nominal", worst.rests_on)
            continue
        ways = [] if worst.twisted else ["twist the two wires from end to end"]
        if grounded:
            ways.append("join both ends to ground by 100 ohm each, and neither otherwise")
        faults = [] if worst.twisted else ["not twisted"]
        faults += ["grounded at one side"] if grounded else []
        yield Fail(
            about=part,
            says=f"the heater of {part.name}, {' and '.join(faults)}, puts {volt(worst.volts)} of"
            f" hum on the grid of {worst.stage.name}",
            remedy=f"{' and '.join(ways)}: {volt(worst.best)} is left",
            value=heard,
            limit=most,
            state="warm, mains nominal",
            working=worst.working,
            rests_on=worst.rests_on,
        )
    for gap in heaters.lacks:
        yield Open(gap.about or design.subject, gap.datum, gap.where)
