"""Suppressors and shields of tubes tied where they do harm."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Schematic,
    Stages,
    Verdicts,
    Warm,
    cite,
    kinds,
    limit,
    rule,
    volt,
)


@rule(
    title="A suppressor or shield of a tube stands where it should not",
    harm=Harm.UNDERPERFORMS,
    why="""
        A suppressor that has a pin of its own belongs on its cathode, or lower; above it the
        plate's secondary electrons go to the screen, and the characteristics are another tube's.
        Only with the screen on the plate as well, as a triode, may it stand there. A shield keeps
        the plate's voltage out of the grid when it is at a quiet potential. On an octal tube it is
        the metal shell or base sleeve, and is touched.
    """,
    sources=[cite("suppressor"), cite("touch-voltage")],
    states=("warm, mains nominal",),
)
def suppressor(design: Design, schematic: Schematic, stages: Stages, warm: Warm) -> Verdicts:
    most, touch, state = limit("suppressor-volts"), limit("touch-voltage"), warm.nominal
    for part in design.of(kinds.Tube):
        for stage in (s for s in stages.amplifying if s.part.ref == part.ref):
            pins = [e for e in schematic.electrodes(part) if e.section == stage.section]
            net = next((e.net for e in pins if e.name == "suppressor"), None)
            if net is None or (net == stage.plate == stage.screen):
                continue  # left open is another rule's
            over = Figure(max(state.over(net, stage.cathode), 0.0), "V")
            if over.value <= most.figure.value:
                yield Pass(part.subject, over, most, state.name, state.rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"the suppressor of {stage.name} stands {volt(over.value)} above its cathode",
                remedy=f"1 wire from its suppressor to {stage.cathode}, where its cathode is",
                value=over,
                limit=most,
                state=state.name,
                rests_on=state.rests_on,
            )
        shields = part.tube.pins_of("shield") if part.tube is not None else ()
        busy = {n for s in stages.amplifying for n in (s.plate, s.grid, s.screen)}
        for pin in shields:
            net = part.net(str(pin))
            if net is None or not state.has(net):
                continue
            seen = Figure(abs(state.peak(net, state.netlist.circuit.ground)), "V")
            shell = part.tube is not None and part.tube.base == "octal"
            if net not in busy and seen.value <= touch.figure.value:
                yield Pass(part.subject, seen, touch, state.name, state.rests_on)
                continue
            yield Fail(
                about=part.subject,
                says=f"the shield of {part.ref} (pin {pin}) is on {net}, at {volt(seen.value)}",
                remedy=f"1 wire from pin {pin} to ground, and nothing else on it",
                value=seen,
                limit=touch,
                state=state.name,
                rests_on=state.rests_on,
                exceeds=1.0,
                harm=Harm.FAULT_KILLS if shell and seen.value > touch.figure.value else None,
            )
