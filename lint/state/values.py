"""Everything that was computed, as plain values in SI units."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

from coldcheck.lint.design import Design, tube_remarks
from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.faults import Faults
from coldcheck.lint.facts.off_states import OffStates
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.model import Missing
from coldcheck.lint.physics.circuit import (
    NotSolved,
    Pentode,
    Resistor,
    SiliconDiode,
    Transformer,
    Triode,
    TubeDiode,
)
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_file
from coldcheck.lint.read.tube_types import TubeTypes
from coldcheck.schemas import parts

LEVELS = ("low", "nominal", "high")
Table = dict[str, Any]


def study_of(path: str | Path, types: TubeTypes | None = None) -> Study:
    """The design of a document, ready to be asked; raises InputError when it is none.

    types: the tube types there are beside the document's own; the shipped ones when not given.
    """
    raw, positions = read_file(path)
    return Study(load(raw, positions, str(path), types).design)


def values(study: Study) -> Table:
    """All computed states, in SI units; what could not be computed says why."""
    design: Design = study.get("Design")
    mains = design.document.site.mains
    return {
        "format": 1,
        "project": design.document.project.name,
        "notes": list(tube_remarks(design)),
        "mains": {"volts": mains.voltage, "hertz": mains.frequency, "tolerance": mains.tolerance},
        "warm": {level: _told(functools.partial(_warm, study, level)) for level in LEVELS},
        "cold_start": _told(lambda: _cold(design, study.get("ColdStart"))),
        "discharge": _told(lambda: _discharge(study.get("OffStates"))),
        "faults": _told(lambda: _faults(study.get("Faults"))),
    }


def _told(make: Callable[[], Table]) -> Table:
    """A state, or the sentence that says why there is none."""
    try:
        return make()
    except Missing as gap:
        return {"not_computed": f"needs {gap.datum}"}
    except NotSolved as gap:
        return {"not_computed": str(gap)}


def _warm(study: Study, level: str) -> Table:
    warm: Warm = study.get("Warm")
    state: State = getattr(warm, level)
    design: Design = study.get("Design")
    elements = state.netlist.circuit.elements
    resistors = {part.ref for part in design.of(parts.Resistor)}
    rectified = {
        net
        for e in elements
        if isinstance(e, SiliconDiode | TubeDiode)
        for net in (e.anode, e.cathode)
    }
    tubes: Table = {}
    watts: Table = {}
    windings: Table = {}
    for element in elements:
        if isinstance(element, Triode | Pentode):
            ends = {"plate": element.plate, "grid": element.grid, "cathode": element.cathode}
            entry: Table = {
                "volts": {name: state.volts(net) for name, net in ends.items()},
                "plate_amperes": state.mean_amperes(element.name),
                "plate_watts": state.watts(element.name),
            }
            if isinstance(element, Pentode):
                entry["volts"]["screen"] = state.volts(element.screen)
                entry["screen_watts"] = state.screen_watts(element.name)
            tubes[element.name] = entry
        elif isinstance(element, Resistor) and element.name in resistors:
            watts[element.name] = state.watts(element.name)
        elif isinstance(element, Transformer):
            for coil in element.coils:
                windings[coil.name] = {
                    "rms_amperes": state.rms_amperes(coil.name),
                    "peak_amperes": state.peak_amperes(coil.name),
                }
    return {
        "mains_volts": warm.mains[level],
        "nets": {
            net: {
                "volts": state.volts(net) if state.has(net) else None,
                "ripple_volts": state.ripple(net) if state.has(net) else None,
            }
            for net in design.nets
        },
        "tubes": tubes,
        "windings": windings,
        "resistor_watts": watts,
        "floating": [
            [net for net in group if net in design.nets]
            for group in state.netlist.floating
            # a winding on a bridge hangs on its diodes
            if rectified.isdisjoint(group)
        ],
        "rests_on": [f"{datum.what} ({datum.basis.value})" for datum in state.rests_on],
    }


def _cold(design: Design, cold: ColdStart) -> Table:
    entries: Table = {}
    for part in design.of(parts.Capacitor):
        if len(part.ends) == 2:
            a, b = (part.ends[t] for t in part.spec.terminals())
            entries[part.ref] = {
                "peak_volts": cold.capacitor_volts(part.ref, a, b),
                "rated_volts": part.spec.voltage,
            }
    return {"state": cold.name, "capacitors": entries}


def _discharge(off: OffStates) -> Table:
    entries: Table = {}
    for cap in off.capacitors:
        wait, state = cap.slowest(50.0)
        entries[cap.part.ref] = {
            "start_volts": cap.start,
            "joules": cap.joules,
            "seconds_to_60_volts": _finite(cap.slowest(60.0)[0]),
            "seconds_to_50_volts": _finite(wait),
            "volts_after_10_seconds": cap.left(10.0),
            "volts_after_60_seconds": cap.left(60.0),
            "slowest_state": state.name,
        }
    return {"states": [state.name for state in off.states], "capacitors": entries}


def _finite(seconds: float) -> float | None:
    """None where it never gets there: JSON has no infinity."""
    return None if math.isinf(seconds) else seconds


def _faults(faults: Faults) -> Table:
    return {
        "mains_volts": faults.mains,
        "cases": {
            case.name: {
                "primary_amperes": dict(case.primary),
                "fuse_amperes": dict(case.through),
                "by_hand": list(case.working),
            }
            for case in faults.cases
        },
    }
