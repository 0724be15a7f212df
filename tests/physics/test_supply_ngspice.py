"""The periodic steady state against ngspice."""

from __future__ import annotations

import math
from collections.abc import Callable
from types import ModuleType

import numpy as np
import pytest

from coldcheck.lint.physics.circuit import Capacitor, Circuit, Inductor, Transformer
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers


def initial(circuit: Circuit, state: PeriodicState, share: float) -> dict[str, float]:
    """What ngspice starts from: our answer at time 0, capacitors off by ``share``.

    So a wrong answer is not confirmed by standing still: the test runs many time constants.
    """
    found: dict[str, float] = {}
    for element in circuit.elements:
        match element:
            case Capacitor():
                found[element.name] = share * float(state.across(element.name)[0])
            case Inductor():
                found[element.name] = float(state.amperes(element.name)[0])
            case Transformer() if element.magnetising is not None:
                found[element.name] = float(state.amperes(element.name)[0])
            case _:
                pass
    return found


def quick_choke_supply() -> Circuit:
    """5Y3 class, 16 uF, choke, loaded by two 6V6GT-class stages; settles within 0.3 s."""
    circuit = amplifiers.single_ended()
    slow = {"C12": 2e-6, "C11": 22e-6, "C1L": 5e-6, "C1R": 5e-6, "C3L": 10e-6, "C3R": 10e-6}
    return Circuit(
        tuple(
            Capacitor(e.name, e.a, e.b, slow[e.name]) if e.name in slow else e  # type: ignore[union-attr]
            for e in circuit.elements
        ),
        "0",
    )


def quick_silicon_supply() -> Circuit:
    """Two silicon diodes, CRCRC, line stage; settles within 0.3 s."""
    circuit = amplifiers.line_stage()
    return Circuit(
        tuple(
            Capacitor(e.name, e.a, e.b, 10e-6)
            if isinstance(e, Capacitor) and e.name in {"C10", "C11", "C12", "C1"}
            else e
            for e in circuit.elements
        ),
        "0",
    )


@pytest.mark.ngspice
@pytest.mark.parametrize("make", [quick_choke_supply, quick_silicon_supply])
def test_supply_agrees_with_ngspice(make: Callable[[], Circuit], spice: ModuleType) -> None:
    """DC 0.1 %, ripple, winding rms and peaks 1 %; ngspice starts 3 % off and runs 0.6 s."""
    circuit = make()
    state = periodic_state(circuit)
    run = spice.transient(circuit, 0.6, 4e-5, initial(circuit, state, 0.97)).cycle(0.6, 0.02)
    compared = 0
    for node in state.network.index:
        volts = run.volts(node)
        if abs(volts.mean()) > 1.0 and not node.startswith("a"):
            assert state.mean(node) == pytest.approx(volts.mean(), rel=1e-3), node
            compared += 1
        if np.ptp(volts) > 2e-3 and abs(volts[-1] - volts[0]) < 1e-3 * np.ptp(volts):
            assert state.ripple(node) == pytest.approx(np.ptp(volts), rel=0.01), node
            compared += 1
    assert compared >= 12
    for name in run.deck.sensors:
        rms = math.sqrt(np.mean(run.amperes(name) ** 2))
        if rms > 1e-3:
            ours = math.sqrt(np.mean(state.amperes(name) ** 2))
            assert ours == pytest.approx(rms, rel=0.01), name
            assert np.abs(state.amperes(name)).max() == pytest.approx(
                np.abs(run.amperes(name)).max(), rel=0.01
            ), name


@pytest.mark.ngspice
def test_push_pull_supply_agrees_with_ngspice(spice: ModuleType) -> None:
    """Bridge and half-wave bias, 0.3 s from our answer: what is compared settles within 0.1 s."""
    circuit = amplifiers.push_pull()
    state = periodic_state(circuit)
    run = spice.transient(circuit, 0.3, 5e-5, initial(circuit, state, 1.0)).cycle(0.3, 0.02)
    for node in ("B1", "B2", "raw bias", "a1"):
        volts = run.volts(node)
        assert state.mean(node) == pytest.approx(volts.mean(), rel=1e-3), node
        assert state.ripple(node) == pytest.approx(np.ptp(volts), rel=0.01), node
    for name in ("T1 primary", "T1 plate", "T1 bias", "T1 heater"):
        rms = math.sqrt(np.mean(run.amperes(name) ** 2))
        assert math.sqrt(np.mean(state.amperes(name) ** 2)) == pytest.approx(rms, rel=0.01), name
