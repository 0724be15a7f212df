"""``coldcheck state``: everything that was computed, as plain values and as text."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from coldcheck.lint.design import Design, natural
from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.cold_start import ColdStart
from coldcheck.lint.facts.faults import Faults
from coldcheck.lint.facts.off_states import OffStates
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.model import Figure, Missing
from coldcheck.lint.physics.circuit import NotSolved, Pentode, Resistor, Transformer, Triode
from coldcheck.lint.printing import clean, figure
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_file
from coldcheck.schemas.parts import Capacitor

LEVELS = ("low", "nominal", "high")
Table = dict[str, Any]


def state_json(path: str | Path) -> Table:
    """All computed states of a document, in SI units; what could not be computed says why.

    Raises InputError when the file is not a project document.
    """
    raw, positions = read_file(path)
    design = load(raw, positions, str(path)).design
    study = Study(design)
    mains = design.document.site.mains
    return {
        "format": 1,
        "project": design.document.project.name,
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
    except (Missing, NotSolved) as gap:
        return {"not_computed": str(gap)}


def _warm(study: Study, level: str) -> Table:
    warm: Warm = study.get("Warm")
    state: State = getattr(warm, level)
    design: Design = study.get("Design")
    elements = state.netlist.circuit.elements
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
        elif isinstance(element, Resistor) and element.name in design.parts:
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
            net: {"volts": state.volts(net), "ripple_volts": state.ripple(net)}
            for net in design.nets
        },
        "tubes": tubes,
        "windings": windings,
        "resistor_watts": watts,
        "floating": [list(group) for group in state.netlist.floating],
        "rests_on": [f"{datum.what} ({datum.basis.value})" for datum in state.rests_on],
    }


def _cold(design: Design, cold: ColdStart) -> Table:
    entries: Table = {}
    for part in design.of(Capacitor):
        if len(part.ends) == 2 and isinstance(part.spec, Capacitor):
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


# -- as text -------------------------------------------------------------------------------------


def state_text(path: str | Path, width: int = 80, colour: bool = False) -> str:
    """The same as text: a voltage chart first, then currents, start, discharge and faults."""
    del width, colour  # columns fit 80 characters and nothing here depends on colour
    return "\n".join(clean(line) for line in _lines(state_json(path))) + "\n"


def _lines(told: Table) -> Iterator[str]:
    mains = told["mains"]
    yield f"Computed state of {told['project']}"
    yield (
        f"mains {_show(mains['volts'], 'V')} {_show(mains['hertz'], 'Hz')},"
        f" {_show(mains['tolerance'], '%')} either way"
    )
    yield from _chart(told["warm"])
    nominal, high = told["warm"]["nominal"], told["warm"]["high"]
    if "not_computed" not in high:
        yield from _tubes(nominal, high)
        yield from _windings(nominal, high)
        yield from _resistors(high)
    yield from _section("Cold start, mains high: largest voltage on each capacitor")
    yield from _or_why(told["cold_start"], _cold_lines)
    yield from _section("Discharge after mains off, in the slowest state of switches and fuses")
    yield from _or_why(told["discharge"], _discharge_lines)
    yield from _section("Current in the primary with one part shorted, mains low")
    yield from _or_why(told["faults"], _fault_lines)


def _section(title: str) -> Iterator[str]:
    yield ""
    yield title
    yield "-" * min(len(title), 78)


def _or_why(table: Table, lines: Callable[[Table], Iterator[str]]) -> Iterator[str]:
    if "not_computed" in table:
        yield f"not computed: needs {table['not_computed']}"
    else:
        yield from lines(table)


def _chart(warm: Table) -> Iterator[str]:
    yield from _section("Voltage chart, warm: dc to chassis, and ripple peak to peak at nominal")
    known = {level: warm[level] for level in LEVELS if "not_computed" not in warm[level]}
    for level in LEVELS:
        if level not in known:
            yield f"mains {level} not computed: {warm[level]['not_computed']}"
    if "nominal" not in known:
        return
    yield f"{'net':<24}{'low':>12}{'nominal':>12}{'high':>12}{'ripple':>14}"
    for net in sorted(known["nominal"]["nets"], key=natural):
        entry = known["nominal"]["nets"][net]
        cells = [
            _show(_snap(known[level]["nets"][net]["volts"]), "V") if level in known else "-"
            for level in LEVELS
        ]
        ripple = _show(_snap(entry["ripple_volts"]), "V")
        yield f"{net:<24}{cells[0]:>12}{cells[1]:>12}{cells[2]:>12}{ripple:>14}"
    for group in known["nominal"]["floating"]:
        yield f"floats, taken as tied to the chassis: {', '.join(group)}"
    for weak in known["nominal"]["rests_on"]:
        yield f"rests on {weak}"


def _tubes(nominal: Table, high: Table) -> Iterator[str]:
    if not nominal.get("tubes"):
        return
    yield from _section("Tubes: nominal volts to chassis; dissipation at mains high")
    head = f"{'tube':<8}{'plate':>10}{'screen':>10}{'grid':>10}{'cathode':>10}"
    yield head + f"{'plate':>11}{'plate':>9}{'screen':>9}"
    for name, entry in sorted(nominal["tubes"].items(), key=lambda item: natural(item[0])):
        hot = high["tubes"][name]
        cells = [
            _show(_snap(entry["volts"][electrode]), "V") if electrode in entry["volts"] else "-"
            for electrode in ("plate", "screen", "grid", "cathode")
        ]
        screen = _show(hot["screen_watts"], "W") if "screen_watts" in hot else "-"
        volts = "".join(f"{cell:>10}" for cell in cells)
        amperes, watts = _show(entry["plate_amperes"], "A"), _show(hot["plate_watts"], "W")
        yield f"{name:<8}{volts}{amperes:>11}{watts:>9}{screen:>9}"


def _windings(nominal: Table, high: Table) -> Iterator[str]:
    yield from _section("Winding currents")
    yield f"{'winding':<24}{'rms nominal':>14}{'rms high':>14}{'peak high':>14}"
    for name, entry in high["windings"].items():
        before = nominal["windings"][name]["rms_amperes"]
        cells = (before, entry["rms_amperes"], entry["peak_amperes"])
        yield f"{name:<24}" + "".join(f"{_show(cell, 'A'):>14}" for cell in cells)


def _resistors(high: Table) -> Iterator[str]:
    yield from _section("Resistor dissipation, warm, mains high")
    cells = [
        f"{ref} {_show(watts, 'W')}"
        for ref, watts in sorted(high["resistor_watts"].items(), key=lambda item: natural(item[0]))
        if watts >= 1e-3
    ]
    for at in range(0, len(cells), 4):
        yield "".join(f"{cell:<20}" for cell in cells[at : at + 4]).rstrip()


def _cold_lines(table: Table) -> Iterator[str]:
    for ref, entry in table["capacitors"].items():
        rated = entry["rated_volts"]
        against = f"rated {_show(rated, 'V')}" if rated is not None else "rating not stated"
        yield f"{ref:<8}{_show(_snap(entry['peak_volts']), 'V'):>10}   {against}"


def _discharge_lines(table: Table) -> Iterator[str]:
    yield f"{'':<8}{'from':>9}{'energy':>10}{'to 50 V':>11}{'after 60 s':>12}   slowest state"
    for ref, entry in table["capacitors"].items():
        wait = entry["seconds_to_50_volts"]
        cells = (
            f"{_show(abs(_snap(entry['start_volts'])), 'V'):>9}",
            f"{_show(entry['joules'], 'J') if entry['joules'] > 1e-6 else '0 J':>10}",
            f"{_show(math.inf if wait is None else wait, 's'):>11}",
            f"{_show(_snap(entry['volts_after_60_seconds']), 'V'):>12}",
        )
        state = entry["slowest_state"] if wait is None or wait > 0 else "never above 50 V"
        yield f"{ref:<8}{''.join(cells)}   {state}"


def _fault_lines(table: Table) -> Iterator[str]:
    for name, case in table["cases"].items():
        flows = [f"{_show(amps, 'A')} in {ref}" for ref, amps in case["primary_amperes"].items()]
        yield f"{name}: {', '.join(flows)}"
        for line in case["by_hand"]:
            yield f"  {line}"


def _snap(volts: float) -> float:
    """A value of numerical noise reads zero."""
    return 0.0 if abs(volts) < 5e-7 else volts


def _show(value: float, unit: str) -> str:
    return figure(Figure(value, unit))
