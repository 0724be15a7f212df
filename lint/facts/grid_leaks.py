"""Grid circuits: the resistance from each grid to ground, as its stray current sees it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from coldcheck.lint.design import Design
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.model import Datum
from coldcheck.lint.netlist import Setting, netlist
from coldcheck.lint.physics.resistance import ohms_to_ground


class GridLeaks(NamedTuple):
    """Ohms from the grid of each tube section to ground; infinite where nothing leads there."""

    ohms: Mapping[str, float]
    rests_on: tuple[Datum, ...]


def make(design: Design, stages: Stages) -> GridLeaks:
    """Tubes out and the mains off, so that only resistors and windings count."""
    written = netlist(design, Setting(None, tubes=False))
    ohms = {
        stage.name: ohms_to_ground(written.circuit, stage.grid)
        for stage in stages.amplifying
        if stage.grid is not None
    }
    return GridLeaks(ohms, written.data)
