"""Rectifier tubes with what feeds their plates and the capacitor they charge."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.mains_side import MainsSide
from coldcheck.lint.facts.stages import Stage, Stages
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Subject
from coldcheck.lint.netlist import primaries
from coldcheck.lint.physics.circuit import Circuit, Coil, Resistor, Transformer
from coldcheck.schemas.parts import Capacitor, Tube


class Feed(NamedTuple):
    """What stands before one plate."""

    stage: Stage
    volts: float
    """rms of its half winding with no load, mains nominal."""
    ohms: float
    """In series with the plate, the primary's share included."""
    working: str


class Rectifier(NamedTuple):
    """A rectifier tube in use."""

    part: Use[Tube]
    stages: tuple[Stage, ...]
    feeds: tuple[Feed, ...]
    first_farads: float
    """Capacitance from its cathode straight to ground."""
    capacitors: tuple[Subject, ...]


class Rectifiers(NamedTuple):
    """Every rectifier tube of a design."""

    all: tuple[Rectifier, ...]


def make(
    design: Design,
    schematic: Schematic,
    stages: Stages,
    cold: ColdStart,
    mains: MainsSide | None,
) -> Rectifiers:
    """Needs the schematic, and the transformer's resistances."""
    made_for = mains.made_for if mains is not None else {}
    circuit, ground = cold.steady.netlist.circuit, schematic.ground()
    found = []
    for part in {stage.part.ref: stage.part for stage in stages.rectifiers}.values():
        own = tuple(stage for stage in stages.rectifiers if stage.part.ref == part.ref)
        outputs = {net for stage in own for net in stage.outputs}
        first = [
            cap
            for cap in design.of(Capacitor)
            if outputs & set(cap.ends.values()) and ground & set(cap.ends.values())
        ]
        fed = (_feed(circuit, design, stage, made_for) for stage in own)
        feeds = tuple(feed for feed in fed if feed is not None)
        farads = sum(cap.spec.value for cap in first)
        found.append(Rectifier(part, own, feeds, farads, tuple(cap.subject for cap in first)))
    return Rectifiers(tuple(found))


def _feed(
    circuit: Circuit, design: Design, stage: Stage, made_for: Mapping[str, float]
) -> Feed | None:
    """The winding a plate hangs on, directly or behind one resistor; None when there is none."""
    behind = {stage.plate: 0.0}
    for element in circuit.elements:
        if isinstance(element, Resistor) and stage.plate in (element.a, element.b):
            behind[element.b if element.a == stage.plate else element.a] = element.ohms
    supplies = [
        (behind[net], primary, coil)
        for element in circuit.elements
        if isinstance(element, Transformer) and element.magnetising is None
        for sections in (primaries(element),)
        for primary in (_whole(sections),)
        for coil in element.coils
        if coil not in sections
        for net in (coil.a, coil.b)
        if net in behind
    ]
    if not supplies:
        return None
    # the nearest: a resistor from the plate to ground leads to the tap of the winding as well
    series, primary, coil = min(supplies, key=lambda supply: supply[0])
    volts = design.document.site.mains.voltage * coil.turns
    volts /= made_for.get(primary.name.partition(".")[0], primary.turns)
    return _reckon(primary, coil, stage, series, volts)


def _whole(sections: tuple[Coil, ...]) -> Coil:
    """All sections in use as one: what they reflect is the same in series and in parallel."""
    turns, ohms = (sum(each) for each in zip(*((c.turns, c.ohms) for c in sections), strict=True))
    return sections[0]._replace(turns=turns, ohms=ohms)


def _reckon(primary: Coil, coil: Coil, stage: Stage, series: float, volts: float) -> Feed:
    ratio = coil.turns / primary.turns
    ohms = coil.ohms + primary.ohms * ratio**2 + series
    words = f"{coil.ohms:.3g} ohm + {primary.ohms:.3g} ohm x {ratio:.3g}^2"
    if series:
        words += f" + {series:.3g} ohm"
    return Feed(stage, volts, ohms, words)
