"""The periodic steady state: closed forms, balances, makers' rectifier data, ngspice."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from coldcheck.lint.physics import settling
from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    CurrentLoad,
    Inductor,
    NotSolved,
    Pentode,
    Resistor,
    SiliconDiode,
    Source,
    Transformer,
    ZenerDiode,
)
from coldcheck.lint.physics.dc import operating_point
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers, kirchhoff

DATA = Path(__file__).parent / "data"
PEAK = 230.0 * math.sqrt(2.0)
MAKERS = (amplifiers.single_ended, amplifiers.push_pull, amplifiers.line_stage)


def circuit_of(*elements: object) -> Circuit:
    return Circuit(elements, "0")  # type: ignore[arg-type]


def test_ideal_transformer_ratio_and_reflected_load() -> None:
    """10:1 with 2 + 0.1 ohm of wire and 8 ohm: everything follows from the ratio."""
    core = Transformer("T", (Coil("p", "a", "0", 230.0, 2.0), Coil("s", "b", "0", 23.0, 0.1)))
    state = periodic_state(
        circuit_of(Source("V", "a", "0", peak=PEAK), core, Resistor("R", "b", "0", 8.0))
    )
    current = PEAK / (2.0 + 100.0 * 8.1)
    assert state.amperes("p").max() == pytest.approx(current, rel=1e-9)
    assert state.volts("b").max() == pytest.approx(10.0 * current * 8.0, rel=1e-9)
    assert state.amperes("s") == pytest.approx(-10.0 * state.amperes("p"), abs=1e-8)
    assert state.watts("R") == pytest.approx((10.0 * current) ** 2 * 8.0 / 2.0, rel=1e-9)
    assert state.watts("p") == pytest.approx(current**2, rel=1e-8)
    assert state.mean("b") == pytest.approx(0.0, abs=1e-9)


def test_magnetising_current_is_that_of_the_inductance() -> None:
    core = Transformer("T", (Coil("p", "a", "0", 1.0, 0.0), Coil("s", "b", "0", 1.0, 0.0)), 10.0)
    state = periodic_state(
        circuit_of(Source("V", "a", "0", peak=PEAK), core, Resistor("R", "b", "0", 1e9))
    )
    crest = PEAK / (2 * math.pi * 50 * 10)
    assert state.amperes("p").max() == pytest.approx(crest, rel=1e-6)
    assert state.amperes("T").max() == pytest.approx(crest, rel=1e-6)


@pytest.mark.parametrize("hertz", [50.0, 60.0])
def test_low_pass_and_resonance_have_their_closed_forms(hertz: float) -> None:
    omega = 2.0 * math.pi * hertz
    source = Source("V", "a", "0", dc=5.0, peak=10.0, phase=0.3)
    low = Circuit(
        (source, Resistor("R", "a", "b", 1e3), Capacitor("C", "b", "0", 1e-6)), "0", hertz
    )
    state = periodic_state(low)
    gain = 1.0 / complex(1.0, omega * 1e-3)
    expected = 5.0 + 10.0 * (np.exp(1j * (omega * state.time + 0.3)) * gain).imag
    assert state.volts("b") == pytest.approx(expected, abs=1e-9)
    series = Circuit(
        (source, Inductor("L", "a", "b", 2.0, 30.0), Capacitor("C", "b", "0", 3e-6)), "0", hertz
    )
    ringing = periodic_state(series)
    impedance = complex(30.0, omega * 2.0 - 1.0 / (omega * 3e-6))
    assert ringing.amperes("C").max() == pytest.approx(10.0 / abs(impedance), rel=2e-3)
    assert ringing.amperes("C") == pytest.approx(ringing.amperes("L"), abs=1e-9)


def test_bridge_carries_each_half_wave_in_its_pair() -> None:
    """Resistive load: identities of the bridge, and the mean of a rectified sine."""
    winding = amplifiers.transformer(0.0, Coil("s", "a1", "a2", 230.0, 0.0))
    load = Resistor("load", "B1", "0", 1e3)
    state = periodic_state(
        circuit_of(
            *amplifiers.mains(230.0), winding, *amplifiers.bridge("D", "a1", "a2", "B1", "0"), load
        ),
        samples=256,
    )
    # D1 pairs with D4 (its current returns into a2), D2 with D3.
    assert state.amperes("D1") == pytest.approx(state.amperes("D4"), abs=1e-6)
    assert state.amperes("D2") == pytest.approx(state.amperes("D3"), abs=1e-6)
    both = state.amperes("D1") + state.amperes("D2")
    assert both == pytest.approx(state.amperes("load"), abs=1e-6)
    assert state.mean("B1") == pytest.approx(2.0 / math.pi * PEAK - 1.6, rel=3e-3)


def test_no_load_reaches_the_crest() -> None:
    """Silicon within 1.5 %, the tube rectifier within 5 %, each with its bleeder."""
    for make, share in zip(MAKERS, (0.95, 0.985, 0.985), strict=True):
        state = periodic_state(amplifiers.without_tubes(make(253.0)))
        reservoir = state.mean("B1")
        windings = (name for name in state.network.ends if name.startswith("T1 plate"))
        crest = max(float(np.max(state.across(name))) for name in windings)
        assert share * crest < reservoir < crest


def test_half_wave_leaves_no_steady_voltage_on_a_winding() -> None:
    """The core takes the winding's dc current; with a large inductance it must come out alike."""

    def half_wave(magnetising: float | None) -> PeriodicState:
        coils = (Coil("p", "primary", "neutral", 230.0, 5.0), Coil("s", "w", "0", 50.0, 10.0))
        return periodic_state(
            circuit_of(
                *amplifiers.mains(230.0),
                Transformer("T", coils, magnetising),
                amplifiers.silicon("D", "w", "B1"),
                Capacitor("C", "B1", "0", 100e-6),
                Resistor("R", "B1", "0", 1e3),
            )
        )

    ideal, real = half_wave(None), half_wave(1e4)
    assert ideal.mean("B1") == pytest.approx(real.mean("B1"), rel=1e-5)
    assert ideal.mean("w") == pytest.approx(-10.0 * ideal.amperes("D").mean(), rel=1e-6)
    assert ideal.amperes("p").mean() == pytest.approx(0.0, abs=1e-9)


def test_batteries_only_is_the_operating_point() -> None:
    battery = Source("B", "B1", "0", dc=280.0)
    circuit = circuit_of(
        battery, Resistor("R9", "B1", "B2", 1e3), *amplifiers.preamplifier("B1", "B2")
    )
    state, point = periodic_state(circuit), operating_point(circuit)
    for node, volts in point.volts.items():
        assert state.mean(node) == pytest.approx(volts, abs=1e-6)
        assert state.ripple(node) == pytest.approx(0.0, abs=1e-9)
    assert state.amperes("V1") == pytest.approx(point.amperes["V1"], rel=1e-6)


def test_led_on_a_heater_winding() -> None:
    """Half-wave current through the resistor; a diode across it keeps the reverse voltage off."""
    red = SiliconDiode("LED", "x", "h2", 1e-18, 0.05, 2.0)
    heater = amplifiers.transformer(5.0, Coil("h", "h1", "h2", 6.3, 0.1))
    parts = [heater, Resistor("R", "h1", "x", 390.0), Resistor("tie h", "h2", "0", 100.0), red]
    open_, shunted = (
        periodic_state(circuit_of(*amplifiers.mains(230.0), *parts, *more))
        for more in ([], [amplifiers.silicon("D", "h2", "x")])
    )
    peak = 6.3 * math.sqrt(2.0)
    assert open_.across("LED").min() == pytest.approx(-peak, rel=0.01)
    assert shunted.across("LED").min() > -1.0
    for state in (open_, shunted):
        assert state.amperes("LED").max() == pytest.approx((peak - 1.9) / 390.0, rel=0.05)


def test_zener_fed_by_raw_half_waves_is_solved_over_the_cycle() -> None:
    """No capacitor: the zener sees half waves, so linearising it would be wrong, and is noticed."""
    state = periodic_state(
        circuit_of(
            Source("V", "a", "0", peak=100.0),
            amplifiers.silicon("D", "a", "b"),
            Resistor("R", "b", "z", 1e3),
            ZenerDiode("Z", "0", "z", 47.0, 20.0),
        )
    )
    assert state.swinging.all()
    assert state.volts("z").max() == pytest.approx(47.0 + 20.0 * (100.0 - 48.0) / 1020.0, rel=5e-3)
    assert state.amperes("Z").min() == pytest.approx(-(100.0 - 47.9) / 1020.0, rel=5e-3)


def test_zener_chain_regulates_a_screen() -> None:
    """Four zeners of 75 V and 50 ohm carry what the dropper leaves over."""
    chain = [ZenerDiode(f"Z{k}", f"z{k}", f"z{k + 1}", 75.0, 50.0) for k in range(4)]
    circuit = circuit_of(
        *amplifiers.mains(230.0),
        amplifiers.transformer(5.0, Coil("s", "a1", "a2", 250.0, 20.0)),
        *amplifiers.bridge("D", "a1", "a2", "B1", "0"),
        Capacitor("C1", "B1", "0", 100e-6),
        Resistor("dropper", "B1", "z4", 2e3),
        *chain,
        Resistor("foot", "z0", "0", 1.0),
        Capacitor("C2", "z4", "0", 22e-6),
        Pentode("V", "q", "z4", "g", "k", amplifiers.V6),
        Resistor("Rq", "B1", "q", 1e3),
        Resistor("Rg", "g", "0", 1e5),
        Resistor("Rk", "k", "0", 300.0),
    )
    state = periodic_state(circuit)
    through = -float(state.amperes("Z0").mean())
    assert 0.002 < through < 0.05
    assert state.mean("z4") == pytest.approx(300.0 + 201.0 * through, rel=1e-3)
    screen = float(state.screen_amperes("V").mean())
    assert state.amperes("dropper").mean() == pytest.approx(through + screen, rel=1e-5)
    assert state.watts("Z1") == pytest.approx(75.0 * through, rel=0.02)


def test_declared_load_draws_its_current() -> None:
    state = periodic_state(
        circuit_of(
            *amplifiers.mains(230.0),
            amplifiers.transformer(5.0, Coil("s", "a1", "0", 250.0, 20.0)),
            amplifiers.silicon("D", "a1", "B1"),
            Capacitor("C1", "B1", "0", 100e-6),
            CurrentLoad("box", "B1", "0", 0.05),
        )
    )
    assert state.amperes("D").mean() == pytest.approx(0.05, rel=1e-4)
    # In the cycle's idle part, about 17 ms of 20, the capacitor feeds the load alone.
    assert state.ripple("B1") == pytest.approx(0.05 * 0.0175 / 100e-6, rel=0.05)


@pytest.mark.parametrize("make", MAKERS)
def test_kirchhoff_and_power_balance(make: Callable[[], Circuit]) -> None:
    circuit = make()
    state = periodic_state(circuit)
    worst, largest = kirchhoff.imbalance(circuit, state)
    assert worst <= 1e-6 * largest
    taken, delivered = kirchhoff.power(circuit, state)
    assert abs(taken) <= 1e-5 * delivered


@pytest.mark.parametrize("make", MAKERS)
def test_diodes_obey_their_law_and_tubes_theirs(make: Callable[[], Circuit]) -> None:
    state = periodic_state(make())
    network = state.network
    volts = network.diode_ports @ state.solution
    law = network.diodes.currents(volts)[0]
    assert np.abs(law - state.junction_amperes).max() <= 1e-5 * np.abs(law).max()
    mean = network.tubes.law(network.tube_ports @ state.solution)[0].mean(axis=1)
    assert state.tube_amperes.mean(axis=1) == pytest.approx(mean, rel=1e-5, abs=1e-8)


@pytest.mark.parametrize("make", MAKERS)
def test_start_from_another_mains_voltage_changes_nothing(make: Callable[[float], Circuit]) -> None:
    nominal = periodic_state(make(230.0))
    blind, warm = periodic_state(make(253.0)), periodic_state(make(253.0), start=nominal)
    for node in blind.network.index:
        assert warm.mean(node) == pytest.approx(blind.mean(node), rel=1e-5, abs=1e-4)
        assert warm.ripple(node) == pytest.approx(blind.ripple(node), rel=1e-3, abs=1e-4)


@pytest.mark.parametrize("make", MAKERS)
def test_another_pass_changes_nothing(
    make: Callable[[float], Circuit], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is taken to first order at the end against going on until nothing moves."""
    nominal = periodic_state(make(230.0))
    soon = periodic_state(make(253.0), start=nominal)
    monkeypatch.setattr(settling, "NEAR", 1e-6)
    late = periodic_state(make(253.0), start=nominal)
    for node in late.network.index:
        assert soon.mean(node) == pytest.approx(late.mean(node), rel=1e-6, abs=1e-6)
        assert soon.ripple(node) == pytest.approx(late.ripple(node), rel=1e-4, abs=1e-5)
    for name in late.network.branch:
        assert soon.peak_amperes(name) == pytest.approx(late.peak_amperes(name), rel=1e-4, abs=1e-8)


def test_start_of_another_circuit_is_ignored() -> None:
    other = periodic_state(amplifiers.line_stage())
    state = periodic_state(amplifiers.push_pull(), start=other)
    assert state.mean("B1") == pytest.approx(periodic_state(amplifiers.push_pull()).mean("B1"))


@pytest.mark.parametrize("make", MAKERS)
def test_finer_sampling_changes_little(make: Callable[[], Circuit]) -> None:
    coarse, fine = periodic_state(make()), periodic_state(make(), samples=512)
    for node in coarse.network.index:
        if abs(fine.mean(node)) > 1.0:
            assert coarse.mean(node) == pytest.approx(fine.mean(node), rel=1e-3)
    for name in coarse.network.branch:
        exact = math.sqrt(np.mean(fine.amperes(name) ** 2)) if name[:2] == "T1" else 0.0
        if exact > 1e-3 and name != "T1":
            rms = math.sqrt(np.mean(coarse.amperes(name) ** 2))
            assert rms == pytest.approx(exact, rel=0.01)


def test_refusals_name_what_is_wrong() -> None:
    twice = circuit_of(Source("V1", "a", "0", peak=5.0), Source("V2", "a", "0", peak=5.0))
    with pytest.raises(NotSolved, match="V2"):
        periodic_state(twice)
    adrift = circuit_of(CurrentLoad("I", "x", "0", 1e-2), Capacitor("C", "x", "0", 1e-6))
    with pytest.raises(NotSolved, match="node x"):
        periodic_state(adrift)
    with pytest.raises(NotSolved, match="frequency"):
        periodic_state(Circuit((), "0", 0.0))
    with pytest.raises(ValueError, match="even"):
        periodic_state(circuit_of(), samples=33)
    state = periodic_state(amplifiers.line_stage())
    for ask in (state.amperes, state.volts, state.watts, state.screen_watts, state.ripple):
        with pytest.raises(KeyError):
            ask("nothing")
