"""Both demos against ngspice: same equations, so only the solving differs.

The transient starts 3 % below our answer on every capacitor and runs until it has settled, so a
wrong answer of ours is not its starting point.
"""

from __future__ import annotations

import functools
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Inductor,
    SiliconDiode,
    Source,
    Transformer,
    TubeDiode,
)
from coldcheck.lint.physics.dc import operating_point
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_file

PROJECTS = Path(__file__).resolve().parents[2] / "projects"
# settling time in seconds: five times the longest time constant that carries supply current
DEMOS = {"lantern": 1.6, "heron": 3.0}

pytestmark = pytest.mark.ngspice


@functools.cache
def warm(name: str) -> tuple[State, tuple[str, ...]]:
    path = PROJECTS / f"{name}.toml"
    raw, positions = read_file(path)
    design = load(raw, positions, str(path)).design
    return Warm(design).nominal, tuple(design.nets)


def fed_with_dc(circuit: Circuit, volts: float) -> Circuit:
    """The amplifier with its reservoir fed by a battery instead of transformer and rectifier."""
    kept = [
        e
        for e in circuit.elements
        if not isinstance(e, TubeDiode | SiliconDiode)
        and not (isinstance(e, Transformer) and e.magnetising is None)
    ]
    battery = Source("battery", "B1", circuit.ground, dc=volts)
    return Circuit((*kept, battery), circuit.ground, circuit.mains_hz)


@pytest.mark.parametrize("name", DEMOS)
def test_dc_operating_point(name: str, spice: ModuleType) -> None:
    state, nets = warm(name)
    circuit = fed_with_dc(state.netlist.circuit, state.volts("B1"))
    ours, theirs = operating_point(circuit), spice.operating_point(circuit)
    looked_at = 0
    for net in nets:
        if net in ours.volts and net in theirs.deck.nodes:
            reference = float(theirs.volts(net)[0])
            assert ours.volts[net] == pytest.approx(reference, rel=3e-3, abs=2e-3), net
            looked_at += abs(reference) > 1.0
    assert looked_at >= 6


@pytest.mark.parametrize("name", DEMOS)
def test_loaded_supply(name: str, spice: ModuleType) -> None:
    state, nets = warm(name)
    circuit = state.netlist.circuit
    start: dict[str, float] = {}
    for element in circuit.elements:
        if isinstance(element, Capacitor):
            start[element.name] = 0.97 * float(state.between(element.a, element.b).mean())
        elif isinstance(element, Inductor):
            start[element.name] = 0.97 * state.mean_amperes(element.name)
        elif isinstance(element, Transformer) and element.magnetising is not None:
            start[element.name] = 0.97 * state.mean_amperes(element.coils[0].name)
    cycle = 1.0 / circuit.mains_hz
    stop = round(DEMOS[name] / cycle) * cycle
    run = spice.transient(circuit, stop, 1e-4, start).cycle(stop, cycle)
    for net in nets:
        theirs = run.volts(net)
        mean, ours = float(theirs.mean()), state.volts(net)
        if abs(mean) > 1.0:
            # the mean of a winding end is a small difference of large halves: half a per cent of it all
            swing = float(np.ptp(theirs))
            assert ours == pytest.approx(mean, rel=5e-3, abs=5e-4 * swing), f"dc of {net}"
    for net in ("B1", "B2"):
        theirs = float(np.ptp(run.volts(net)))
        assert state.ripple(net) == pytest.approx(theirs, rel=0.03), f"ripple of {net}"
    for coil in ("T1.primary", "T1.ht.1", "T1.ht.2"):
        theirs = float(np.sqrt(np.mean(np.square(run.amperes(coil)))))
        assert state.rms_amperes(coil) == pytest.approx(theirs, rel=0.02), f"rms of {coil}"
