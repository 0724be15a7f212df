"""Grid circuits: the resistance from each grid to ground, as its stray current sees it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from coldcheck.lint.design import Design
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Datum
from coldcheck.lint.netlist import Setting, netlist
from coldcheck.lint.physics.circuit import Capacitor, Circuit, Element, Resistor
from coldcheck.lint.physics.resistance import ohms_to_ground
from coldcheck.schemas.parts import Potentiometer

# What is left of a potentiometer's track on the short side of a wiper at its end: next to none.
END_OHMS = 1e-3
STOPPER_SHARE = 0.1
"""Of the resistance to ground that a resistor on the way to a grid has at most; our choice."""


class GridLeaks(NamedTuple):
    """Ohms from the grid of each tube section to ground; infinite where nothing leads there."""

    ohms: Mapping[str, float]
    couplings: Mapping[str, tuple[str, ...]]
    """Capacitors by which each of those grids is driven: past stoppers, to what is not ground."""
    rests_on: tuple[Datum, ...]


def make(design: Design, stages: Stages, schematic: Schematic) -> GridLeaks:
    """Tubes out and the mains off, so that only resistors and windings count.

    The largest with every potentiometer at its middle, all turned up, and all turned down: a
    volume control is most of a grid's resistance when it is turned up.
    """
    written = netlist(design, Setting(None, tubes=False))
    grids = {stage.name: stage.grid for stage in stages.amplifying if stage.grid is not None}
    turned = (_turned(design, written.circuit, up) for up in (True, False))
    found = [ohms_to_ground(circuit, grids.values()) for circuit in (written.circuit, *turned)]
    ohms = {name: max(each[grid] for each in found) for name, grid in grids.items()}
    ground = schematic.ground() | {written.circuit.ground}
    couplings = {
        name: _couplings(written.circuit, ground, grid, ohms[name]) for name, grid in grids.items()
    }
    return GridLeaks(ohms, couplings, written.data)


def _couplings(circuit: Circuit, ground: frozenset[str], grid: str, leak: float) -> tuple[str, ...]:
    near, edge = {grid}, [grid]
    while edge:
        here = edge.pop()
        for element in circuit.elements:
            if isinstance(element, Resistor) and element.ohms < STOPPER_SHARE * leak:
                ends = {element.a, element.b}
                further = ends - near - ground if here in ends else set()
                near |= further
                edge += further
    return tuple(
        element.name
        for element in circuit.elements
        if isinstance(element, Capacitor)
        and len({element.a, element.b} & near) == 1
        and not {element.a, element.b} & ground
    )


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
