"""Everything that was computed, as plain values in SI units; text and JSON are made of it."""

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
from coldcheck.lint.facts.fixed_bias import FixedBias
from coldcheck.lint.facts.inrush import Inrush
from coldcheck.lint.facts.off_states import OffStates
from coldcheck.lint.facts.pulled import Pulled
from coldcheck.lint.facts.ratings import Ratings
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.standings import Standings
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.facts.warm_up import WarmUp
from coldcheck.lint.model import Missing, NothingToJudge
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
from coldcheck.lint.state import driven, signal
from coldcheck.schemas import parts

LEVELS = ("low", "nominal", "high")
HALF_CYCLES = 1.0
"""Half mains cycles over which the rms of an inrush is given: a fuse's shortest gate is 10 ms."""
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
        "format": 3,
        "project": design.document.project.name,
        "notes": list(tube_remarks(design)),
        "mains": {"volts": mains.voltage, "hertz": mains.frequency, "tolerance": mains.tolerance},
        "tubes": _pins(design),
        **electrical(study),
        **audible(study),
    }


def electrical(study: Study) -> Table:
    """Every state a part is stressed in."""
    design: Design = study.get("Design")
    return {
        "warm": {level: _told(functools.partial(_warm, study, level)) for level in LEVELS},
        "builds": _told(lambda: driven.builds(study)),
        "ratings": _told(lambda: _ratings(study.get("Stages"), study.get("Ratings"))),
        "full_drive": _told(lambda: driven.full_drive(study)),
        "standings": _told(lambda: _others(design, study.get("Standings"))),
        "pulled": _told(lambda: _pulled(design, study.get("Pulled"))),
        "warming_up": _told(lambda: _warming(design, study.get("WarmUp"))),
        "cold_start": _told(lambda: _cold(study)),
        "inrush": _told(lambda: _inrush(design, study.get("Inrush"))),
        "discharge": _told(lambda: _discharge(study.get("OffStates"))),
        "faults": _told(lambda: _faults(study.get("Faults"))),
        "bias": _told(lambda: _bias(design, study.get("FixedBias"))),
    }


def audible(study: Study) -> Table:
    """What is heard: the signal on its way, and hum."""
    return {
        "signal": _told(lambda: signal.small(study)),
        "level_plan": _told(lambda: signal.plan(study)),
        "distortion": _told(lambda: signal.distortion(study)),
        "hum": _told(lambda: signal.hum(study)),
    }


def _told(make: Callable[[], Table]) -> Table:
    """A state, or the sentence that says why there is none."""
    try:
        return make()
    except Missing as gap:
        return {"not_computed": f"needs {gap.datum}"}
    except (NotSolved, NothingToJudge) as gap:
        return {"not_computed": str(gap)}


def _pins(design: Design) -> Table:
    """Every tube with its pins: what each is, and the net it is on."""
    return {
        part.ref: {
            "type": part.spec.type,
            "pins": {
                str(pin): {"electrode": electrode, "net": part.ends.get(str(pin))}
                for pin, electrode in sorted(part.tube.pins.items())
            },
        }
        for part in design.of(parts.Tube)
        if part.tube is not None
    }


def _warm(study: Study, level: str) -> Table:
    warm: Warm = study.get("Warm")
    state: State = getattr(warm, level)
    design: Design = study.get("Design")
    elements = state.netlist.circuit.elements
    resistors = {part.ref for part in design.of(parts.Resistor)}
    capacitors = {part.ref for part in design.of(parts.Capacitor)}
    rectified = {
        net
        for e in elements
        if isinstance(e, SiliconDiode | TubeDiode)
        for net in (e.anode, e.cathode)
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
        "tubes": tubes_of(state),
        "windings": windings_of(state),
        "resistor_watts": {
            e.name: state.watts(e.name)
            for e in elements
            if isinstance(e, Resistor) and e.name in resistors
        },
        "capacitor_ripple_amperes": {
            e.name: state.rms_amperes(e.name) for e in elements if e.name in capacitors
        },
        "floating": [
            [net for net in group if net in design.nets]
            for group in state.netlist.floating
            # a winding on a bridge hangs on its diodes
            if rectified.isdisjoint(group)
        ],
        "rests_on": [f"{datum.what} ({datum.basis.value})" for datum in state.rests_on],
    }


def tubes_of(state: State) -> Table:
    """Volts to chassis, currents and dissipation of every amplifying tube section."""
    tubes: Table = {}
    for element in state.netlist.circuit.elements:
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
    return tubes


def windings_of(state: State) -> Table:
    """rms and peak current of every winding."""
    return {
        coil.name: {
            "rms_amperes": state.rms_amperes(coil.name),
            "peak_amperes": state.peak_amperes(coil.name),
        }
        for element in state.netlist.circuit.elements
        if isinstance(element, Transformer)
        for coil in element.coils
    }


def _ratings(stages: Stages, ratings: Ratings) -> Table:
    """What each tube section may dissipate; None where the library does not know."""
    return {
        stage.name: {
            key: None
            if (known := ratings.tube(stage.part, key, stage.section)) is None
            else known.figure.value
            for key in ("plate_watts", "screen_watts")
        }
        for stage in stages.amplifying
    }


def _brief(design: Design, state: State) -> Table:
    """A state beside the warm one: every net's dc, and what each plate dissipates."""
    return {
        "nets": {net: state.volts(net) for net in design.nets if state.has(net)},
        "plate_watts": {name: entry["plate_watts"] for name, entry in tubes_of(state).items()},
    }


def _others(design: Design, standings: Standings) -> Table:
    return {state.name: _brief(design, state) for state in standings.states}


def _pulled(design: Design, pulled: Pulled) -> Table:
    tubes = [part.ref for part in design.of(parts.Tube) if part.tube is not None]
    return {state.name: _brief(design, state) for state in (pulled.without(ref) for ref in tubes)}


def _warming(design: Design, warm_up: WarmUp) -> Table:
    return {state.name: _brief(design, state) for state in warm_up.states}


def _cold(study: Study) -> Table:
    cold: ColdStart = study.get("ColdStart")
    design: Design = study.get("Design")
    entries: Table = {}
    for part in design.of(parts.Capacitor):
        if len(part.ends) == 2:
            a, b = (part.ends[t] for t in part.spec.terminals())
            entries[part.ref] = {
                "peak_volts": cold.capacitor_volts(part.ref, a, b),
                "rated_volts": part.spec.voltage,
            }
    return {
        "state": cold.name,
        "capacitors": entries,
        "surge_amperes": {
            e.name: cold.surge_amperes(e.name)
            for e in cold.steady.netlist.circuit.elements
            if isinstance(e, SiliconDiode | TubeDiode) and e.name in cold.steady.rectifiers
        },
    }


def _inrush(design: Design, inrush: Inrush) -> Table:
    seconds = HALF_CYCLES * inrush.half
    return {
        "seconds": seconds,
        "fuses": {
            part.ref: inrush.rms(part.ref, seconds)
            for part in design.of(parts.Fuse)
            if inrush.knows(part.ref)
        },
        "taken": list(inrush.working),
    }


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


def _bias(design: Design, bias: FixedBias) -> Table:
    return {state.name: _brief(design, state) for state in map(bias.failed, bias.failures)}
