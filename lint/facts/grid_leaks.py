"""Grid circuits: the resistance from each grid to ground, as its stray current sees it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from coldcheck.lint.design import Design
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.model import Datum
from coldcheck.lint.netlist import Setting, netlist
from coldcheck.lint.physics.circuit import Circuit, Element, Resistor
from coldcheck.lint.physics.resistance import ohms_to_ground
from coldcheck.schemas.parts import Potentiometer

# What is left of a potentiometer's track on the short side of a wiper at its end: next to none.
END_OHMS = 1e-3


class GridLeaks(NamedTuple):
    """Ohms from the grid of each tube section to ground; infinite where nothing leads there."""

    ohms: Mapping[str, float]
    rests_on: tuple[Datum, ...]


def make(design: Design, stages: Stages) -> GridLeaks:
    """Tubes out and the mains off, so that only resistors and windings count.

    The largest with every potentiometer at its middle, all turned up, and all turned down: a
    volume control is most of a grid's resistance when it is turned up.
    """
    written = netlist(design, Setting(None, tubes=False))
    turned = [_turned(design, written.circuit, up) for up in (True, False)]
    ohms = {
        stage.name: max(
            ohms_to_ground(circuit, stage.grid) for circuit in (written.circuit, *turned)
        )
        for stage in stages.amplifying
        if stage.grid is not None
    }
    return GridLeaks(ohms, written.data)


def _turned(design: Design, circuit: Circuit, up: bool) -> Circuit:
    """The circuit with the wipers of all potentiometers at one end: at "cw" when ``up``."""
    whole = {part.ref: part.spec.value for part in design.of(Potentiometer)}
    elements: list[Element] = []
    for element in circuit.elements:
        ref, _dot, side = element.name.partition(".")
        if isinstance(element, Resistor) and ref in whole:
            long = up is (side == "ccw")
            element = element._replace(ohms=whole[ref] if long else END_OHMS)
        elements.append(element)
    return circuit._replace(elements=tuple(elements))
