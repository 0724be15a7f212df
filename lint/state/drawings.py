"""What was computed, drawn: start-up, ripple, discharge, and the load line of each tube.

Needs matplotlib, which is no part of a review.  Lines differ in dash and carry their name, so that
nothing rests on colour.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.lint.design import Design, natural
from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.cold_start import TOUCH_VOLTS, ColdStart
from coldcheck.lint.facts.off_states import OffStates
from coldcheck.lint.facts.ratings import Ratings
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.model import Missing
from coldcheck.lint.physics.circuit import NotSolved, Pentode, Triode
from coldcheck.lint.physics.devices import pentode_currents, triode_current
from coldcheck.lint.physics.plate_load import plate_load
from coldcheck.schemas import parts
from coldcheck.schemas.quantity import show

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DASHES = ("-", "--", "-.", ":")
SERVICE_VOLTS = 50.0
"""Where discharge is drawn to beside the 60 V of IEC 62368-1 ES1, as the rules on it have them."""
MUSIC_HERTZ = 1e3
GRID_LINES = 7
Drawn = Iterator[tuple[str, "Figure"]]


def draw(study: Study, folder: Path) -> tuple[list[str], list[str]]:
    """Write the drawings into a folder; their names, and a sentence for each that could not be.

    Raises ImportError without matplotlib, OSError when the folder cannot be written.
    """
    import matplotlib

    matplotlib.use("svg")
    # the same bytes from the same design: no date, no random names in the file
    matplotlib.rcParams.update({"svg.hashsalt": "coldcheck", "svg.fonttype": "none"})
    folder.mkdir(parents=True, exist_ok=True)
    written: list[str] = []
    missing: list[str] = []
    drawings: dict[str, Callable[[Study], Drawn]] = {
        "start-up": _start_up,
        "ripple": _ripple,
        "discharge": _discharge,
        "load lines": _load_lines,
    }
    for what, drawing in drawings.items():
        try:
            for name, figure in drawing(study):
                figure.savefig(folder / f"{name}.svg", metadata={"Date": None})
                written.append(f"{name}.svg")
        except Missing as gap:
            missing.append(f"{what}: not drawn, needs {gap.datum}")
        except NotSolved as gap:
            missing.append(f"{what}: not drawn, {gap}")
    return written, missing


def _sheet(title: str, rows: int = 1) -> tuple[Figure, list[Axes]]:
    from matplotlib.figure import Figure as Sheet

    figure = Sheet(figsize=(8.0, 2.2 + 2.6 * rows), layout="constrained")
    axes = figure.subplots(rows, 1, sharex=rows > 1, squeeze=False)[:, 0]
    figure.suptitle(title)
    for each in axes:
        each.grid(visible=True, alpha=0.3)
    return figure, list(axes)


def _named(axes: Axes) -> None:
    axes.legend(loc="best", fontsize="small", handlelength=3.5)


def _supply_nets(design: Design, state: State) -> list[str]:
    """Nets that a smoothing capacitor holds, the highest first."""
    found = {
        net
        for part in design.of(parts.Capacitor)
        if part.spec.dielectric == "electrolytic" and len(part.ends) == 2
        for net in part.ends.values()
        if state.has(net) and abs(state.volts(net)) > TOUCH_VOLTS
    }
    return sorted(found, key=lambda net: (-abs(state.volts(net)), natural(net)))


def _start_up(study: Study) -> Drawn:
    cold: ColdStart = study.get("ColdStart")
    design: Design = study.get("Design")
    rush = cold.rush
    figure, (volts, amperes) = _sheet(f"{design.document.project.name}: {cold.name}", 2)
    milliseconds = 1e3 * rush.time
    for dash, net in zip(itertools.cycle(DASHES), _supply_nets(design, cold.steady), strict=False):
        volts.plot(milliseconds, rush.volts(net), dash, label=net)
    for dash, part in zip(itertools.cycle(DASHES), design.of(parts.MainsTransformer), strict=False):
        # of several sections of a primary, as of 115 V in series, the first that is in use
        ends = ("", *(f".{at}" for at in range(1, 9)))
        names = (f"{part.ref}.primary{end}" for end in ends)
        name = next(name for name in names if cold.steady.knows(name))
        amperes.plot(milliseconds, rush.amperes(name), dash, label=name)
    volts.set_ylabel("V to chassis")
    amperes.set_ylabel("A")
    amperes.set_xlabel("ms from switch-on")
    _named(volts)
    _named(amperes)
    yield "start-up", figure


def _ripple(study: Study) -> Drawn:
    warm: Warm = study.get("Warm")
    design: Design = study.get("Design")
    state = warm.nominal
    nets = _supply_nets(design, state)
    figure, axes = _sheet(
        f"{design.document.project.name}: ripple, {state.name}", max(1, len(nets))
    )
    ground = state.netlist.circuit.ground
    for net, each in zip(nets, axes, strict=False):
        wave = state.between(net, ground)
        each.plot(
            1e3 * state.solved.time, wave - wave.mean(), "-", label=f"{net}, {wave.mean():.3g} V"
        )
        each.set_ylabel("V")
        _named(each)
    axes[-1].set_xlabel("ms")
    yield "ripple", figure


def _discharge(study: Study) -> Drawn:
    off: OffStates = study.get("OffStates")
    design: Design = study.get("Design")
    held = [cap for cap in off.capacitors if abs(cap.start) > TOUCH_VOLTS]
    figure, (axes,) = _sheet(f"{design.document.project.name}: mains off, slowest state")
    waits = [cap.slowest(SERVICE_VOLTS)[0] for cap in held]
    last = max([60.0, *(1.5 * wait for wait in waits if math.isfinite(wait))])
    seconds = np.linspace(0.0, last, 400)
    for dash, cap in zip(itertools.cycle(DASHES), held, strict=False):
        _wait, state = cap.slowest(SERVICE_VOLTS)
        volts = [abs(state.volts_at(cap.part.ref, float(t))) for t in seconds]
        axes.plot(seconds, volts, dash, label=f"{cap.part.ref}: {state.name}")
    for mark, side in ((TOUCH_VOLTS, "bottom"), (SERVICE_VOLTS, "top")):
        axes.axhline(mark, color="black", linewidth=0.8)
        axes.annotate(f"{mark:g} V", (last, mark), ha="right", va=side, fontsize="small")
    axes.set_xlabel("s")
    axes.set_ylabel("V across the capacitor")
    if held:
        _named(axes)
    yield "discharge", figure


def _load_lines(study: Study) -> Drawn:
    warm: Warm = study.get("Warm")
    stages: Stages = study.get("Stages")
    ratings: Ratings = study.get("Ratings")
    state = warm.nominal
    for stage in stages.amplifying:
        tube = state.solved.network.elements.get(stage.name)
        if isinstance(tube, Triode | Pentode):
            rated = ratings.tube(stage.part, "plate_watts", stage.section)
            yield (
                f"load-line-{stage.name}",
                _load_line(state, tube, None if rated is None else rated.figure.value),
            )


def _load_line(state: State, tube: Triode | Pentode, rated: float | None) -> Figure:
    """Plate curves from zero bias to cut-off, the point it rests at, and the loads through it."""
    plate = state.volts(tube.plate) - state.volts(tube.cathode)
    amperes = state.mean_amperes(tube.name)
    bias = state.volts(tube.grid) - state.volts(tube.cathode)
    figure, (axes,) = _sheet(f"{tube.name}: {state.name}")
    span = np.linspace(0.0, 2.2 * plate, 300)
    screen = (
        state.volts(tube.screen) - state.volts(tube.cathode) if isinstance(tube, Pentode) else 0.0
    )
    for grid in np.linspace(0.0, min(2.0 * bias, -1e-3), GRID_LINES):
        curve = _curve(tube, span, screen, float(grid))
        axes.plot(span, 1e3 * curve, "-", color="0.55", linewidth=0.9)
        axes.annotate(f"{grid:.3g} V", (span[-1], 1e3 * curve[-1]), fontsize="x-small")
    for dash, hertz, words in (("--", 0.0, "dc load"), ("-", MUSIC_HERTZ, "load at 1 kHz")):
        ohms = plate_load(state.solved, tube.name, hertz).real
        if ohms > 0.0:
            line = 1e3 * (amperes + (plate - span) / ohms)
            axes.plot(span, line, dash, color="black", label=f"{words}, {show(ohms, 'ohm')}")
    axes.plot(
        [plate],
        [1e3 * amperes],
        "o",
        color="black",
        label=f"{show(plate, 'V')}, {show(amperes, 'A')}",
    )
    if rated is not None:
        axes.plot(span[1:], 1e3 * rated / span[1:], ":", color="black", label=f"rated {rated:g} W")
    most = 1e3 * float(np.max(_curve(tube, span, screen, 0.0)))
    axes.set_ylim(0.0, min(most, max(4e3 * amperes, 0.1)))
    axes.set_xlim(0.0, span[-1])
    axes.set_xlabel("V, plate to cathode")
    axes.set_ylabel("mA")
    _named(axes)
    return figure


def _curve(tube: Triode | Pentode, plate: Any, screen: float, grid: float) -> Any:
    if isinstance(tube, Triode):
        return triode_current(tube.law, plate, grid)
    if tube.screen == tube.plate:
        return sum(pentode_currents(tube.law, plate, plate, grid))
    return pentode_currents(tube.law, plate, screen, grid)[0]
