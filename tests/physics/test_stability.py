"""Natural motions against sums done by hand and against ngspice; the way of ripple against a short."""

from __future__ import annotations

import math
from types import ModuleType

import numpy as np
import pytest

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    Element,
    Inductor,
    Resistor,
    Source,
    Transformer,
    Triode,
)
from coldcheck.lint.physics.stability import HELD, Mode, left_without, modes
from coldcheck.lint.physics.supply import periodic_state
from physics.amplifiers import AX7


def found(*elements: Element, held: tuple[str, ...] = ()) -> tuple[Mode, ...]:
    return modes(periodic_state(Circuit(elements, "0")), dict.fromkeys(held, HELD))


def filter_of(ohms: float, henries: float, farads: float, load: float) -> tuple[Element, ...]:
    return (
        Source("battery", "in", "0", dc=300.0),
        Inductor("L", "in", "out", henries, ohms),
        Capacitor("C", "out", "0", farads),
        Resistor("load", "out", "0", load),
    )


@pytest.mark.parametrize(
    ("ohms", "henries", "farads", "load"),
    [(180.0, 10.0, 47e-6, 6e3), (20.0, 5.0, 100e-6, 2e3), (100.0, 0.1, 1e-6, 1e5)],
)
def test_a_filter_swings_as_its_polynomial_says(
    ohms: float, henries: float, farads: float, load: float
) -> None:
    """s^2 + s (R / L + 1 / (Rl C)) + (1 + R / Rl) / (L C) = 0, by hand."""
    (mode,) = found(*filter_of(ohms, henries, farads, load))
    square = (1.0 + ohms / load) / (henries * farads)
    double = ohms / henries + 1.0 / (load * farads)
    assert mode.hertz == pytest.approx(math.sqrt(square) / (2.0 * math.pi), rel=1e-6)
    assert mode.damping == pytest.approx(0.5 * double / math.sqrt(square), rel=1e-6)
    assert mode.rate.real == pytest.approx(-0.5 * double, rel=1e-6)
    assert not mode.unstable
    # half of the energy of a swing is the coil's, half the capacitor's
    assert mode.shares == pytest.approx({"L": 0.5, "C": 0.5}, abs=0.01)


def test_a_capacitor_that_is_held_leaves_what_does_not_need_it() -> None:
    """With C held the coil is left with its own L / R."""
    both = found(*filter_of(180.0, 10.0, 47e-6, 6e3), held=("C",))
    fast = both[-1]
    assert fast.rate == pytest.approx(-18.0, rel=1e-3)
    assert fast.damping == pytest.approx(1.0)
    assert next(iter(fast.shares)) == "L"


def test_a_transformer_s_inductance_takes_part() -> None:
    """L / R of a magnetising inductance of 14 H behind 7 kohm, the secondary open."""
    coils = (Coil("primary", "a", "0", 25.0, 1.0), Coil("secondary", "b", "0", 1.0, 0.1))
    (mode,) = found(
        Source("battery", "in", "0", dc=1.0),
        Resistor("R", "in", "a", 7e3),
        Transformer("T", coils, magnetising=14.0),
    )
    assert mode.rate == pytest.approx(-7001.0 / 14.0, rel=1e-6)
    assert mode.shares == {"T": pytest.approx(1.0)}


def test_without_capacitors_nothing_moves() -> None:
    assert found(Source("battery", "in", "0", dc=1.0), Resistor("R", "in", "0", 1e3)) == ()


def stages(count: int, smoothing: float, supply_ohms: float) -> Circuit:
    """High-mu triode stages in a row on one supply, each coupled with 0.1 uF and 1 Mohm."""
    elements: list[Element] = [
        Source("battery", "in", "0", dc=300.0),
        Resistor("Rs", "in", "B", supply_ohms),
        Capacitor("Cs", "B", "0", smoothing),
        Resistor("Rg1", "g1", "0", 1e6),
    ]
    for k in range(1, count + 1):
        elements += [
            Triode(f"V{k}", f"p{k}", f"g{k}", f"k{k}", AX7),
            Resistor(f"Rp{k}", "B", f"p{k}", 100e3),
            Resistor(f"Rk{k}", f"k{k}", "0", 1500.0),
        ]
        if k < count:
            elements += [
                Capacitor(f"Cc{k}", f"p{k}", f"g{k + 1}", 0.1e-6),
                Resistor(f"Rg{k + 1}", f"g{k + 1}", "0", 1e6),
            ]
    return Circuit(tuple(elements), "0")


def test_three_stages_on_one_supply_motorboat_and_with_more_smoothing_do_not() -> None:
    def slowest(circuit: Circuit, *held: str) -> Mode:
        return min(
            modes(periodic_state(circuit), dict.fromkeys(held, HELD)), key=lambda mode: mode.damping
        )

    bad = slowest(stages(3, 8e-6, 47e3))
    assert bad.unstable
    both = [mode for mode in modes(periodic_state(stages(3, 8e-6, 47e3))) if mode.unstable]
    assert len(both) == 2 and all("Cs" in mode.shares for mode in both)
    assert not slowest(stages(3, 8e-6, 47e3), "Cs").unstable
    assert not slowest(stages(3, 8e-6, 100.0)).unstable
    # two stages turn the supply's rise into a fall: nothing to motorboat with
    assert not slowest(stages(2, 8e-6, 47e3)).unstable


@pytest.mark.ngspice
@pytest.mark.parametrize("ohms", [175.0, 185.0])
def test_a_supply_s_swings_grow_and_die_in_ngspice_as_said(ohms: float, spice: ModuleType) -> None:
    """A millivolt off rest: just stable, and just not; the crests tell frequency and growth."""
    circuit = stages(3, 8e-6, ohms)
    state = periodic_state(circuit)
    mode = min(modes(state), key=lambda mode: mode.damping)
    assert mode.unstable == (ohms > 180.0)
    start = {
        e.name: float(state.across(e.name)[0]) for e in circuit.elements if isinstance(e, Capacitor)
    }
    start["Cs"] += 1e-3
    swing = 2.0 * math.pi / mode.rate.imag
    run = spice.transient(circuit, 6.0 * swing, swing / 400.0, start)
    time = np.linspace(1.5 * swing, 6.0 * swing, 8001)
    volts = np.interp(time, run.time, run.volts("B")) - state.mean("B")
    middle = volts[1:-1]
    crests = 1 + np.flatnonzero((middle > volts[:-2]) & (middle > volts[2:]))
    assert crests.size >= 3
    between = np.diff(time[crests])
    assert 2.0 * math.pi / between == pytest.approx(mode.rate.imag, rel=0.01)
    grown = np.log(volts[crests][1:] / volts[crests][:-1]) / between
    assert grown == pytest.approx(mode.rate.real, rel=0.05)


def ripple(*more: Element) -> Circuit:
    """A rippling source, two nodes smoothed apart, and an output that hears both."""
    return Circuit(
        (
            Source("mains", "in", "0", dc=100.0, peak=10.0),
            Resistor("R1", "in", "a", 1e3),
            Capacitor("C1", "a", "0", 10e-6),
            Resistor("R2", "in", "b", 3e3),
            Capacitor("C2", "b", "0", 4.7e-6),
            Resistor("R3", "a", "out", 10e3),
            Resistor("R4", "b", "out", 22e3),
            Resistor("R5", "out", "0", 100e3),
            *more,
        ),
        "0",
    )


@pytest.mark.parametrize("node", ["a", "b"])
def test_a_node_held_still_leaves_what_a_farad_across_it_leaves(node: str) -> None:
    before = periodic_state(ripple())
    after = periodic_state(ripple(Capacitor("farad", node, "0", 1.0)))
    share = after.ripple("out") / before.ripple("out")
    assert left_without(before, node, ("out", "0")) == pytest.approx(share, rel=1e-3)
    assert 0.1 < share < 0.9


def test_ground_and_a_silent_output_bring_nothing() -> None:
    state = periodic_state(ripple())
    assert left_without(state, "0", ("out", "0")) == 1.0
    assert left_without(state, "a", ("0", "0")) == 1.0
    # what a source holds cannot be held otherwise
    assert left_without(state, "in", ("out", "0")) == 1.0
