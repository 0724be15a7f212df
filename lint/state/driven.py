"""Full drive, and the spread of a thousand builds, as plain values in SI units."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from coldcheck.lint.design import Design
from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.full_drive import FullDrive
from coldcheck.lint.facts.spread import Array, Spread
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import Warm
from coldcheck.lint.physics.circuit import Transformer
from coldcheck.schemas.parts import OutputTransformer

Table = dict[str, Any]


def builds(study: Study) -> Table:
    """Between which values nine builds of ten lie, the mains anywhere within its tolerance."""
    spread: Spread = study.get("Spread")
    warm: Warm = study.get("Warm")
    design: Design = study.get("Design")
    stages: Stages = study.get("Stages")
    many = spread.nominal

    def band(figures: Array) -> list[float]:
        low, _middle, high = many.band(figures)
        return [low, high]

    tubes = [stage.name for stage in stages.amplifying if warm.nominal.knows(stage.name)]
    return {
        "state": many.name,
        "nets": {net: band(many.volts(net)) for net in design.nets if warm.nominal.has(net)},
        "plate_amperes": {tube: band(many.plate_amperes(tube)) for tube in tubes},
        "plate_watts": {tube: band(many.plate_watts(tube)) for tube in tubes},
        "rests_on": [f"{datum.what} ({datum.basis.value})" for datum in many.rests_on],
    }


def full_drive(study: Study) -> Table:
    """The worst of each figure over the levels of drive, with the mains at its highest."""
    drive: FullDrive = study.get("FullDrive")
    design: Design = study.get("Design")
    stages: Stages = study.get("Stages")
    high = drive.high

    def told(ask: Callable[[str], tuple[float, str]], name: str) -> Table:
        value, state = ask(name)
        return {"value": value, "state": state}

    amplifying = [s for s in stages.amplifying if high.clipping.knows(s.name)]
    supply = high.supply
    outputs = {part.ref for part in design.of(OutputTransformer)}
    return {
        "input_peak_volts": high.clipping.amplitude,
        "output_watts": high.output_watts,
        "plate_watts": {s.name: told(high.plate_watts, s.name) for s in amplifying},
        "screen_watts": {
            s.name: told(high.screen_watts, s.name) for s in amplifying if s.kind == "pentode"
        },
        "supply_state": supply.name,
        "windings": {
            # an output transformer carries the signal, mains windings the pulses of the supply
            coil.name: (high.clipping if element.name in outputs else supply).rms_amperes(coil.name)
            for element in supply.netlist.circuit.elements
            if isinstance(element, Transformer)
            for coil in element.coils
        },
        "rests_on": [f"{datum.what} ({datum.basis.value})" for datum in drive.rests_on],
    }
