"""Discharge: closed forms, conserved charge, structure, time stepping and ngspice."""

from __future__ import annotations

import math
from types import ModuleType

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    CurrentLoad,
    Element,
    Inductor,
    NotSolved,
    Resistor,
    Source,
    Transformer,
    Triode,
)
from coldcheck.lint.physics.discharge import decay
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers


def circuit_of(*elements: Element) -> Circuit:
    return Circuit(elements, "0")


def test_one_capacitor_and_one_bleeder() -> None:
    """t = R C ln(V0 / V)."""
    circuit = circuit_of(Capacitor("C", "a", "0", 100e-6), Resistor("R", "a", "0", 220e3))
    found = decay(circuit, {"C": -400.0})
    assert found.seconds_to("C", 50.0) == pytest.approx(22.0 * math.log(8.0), rel=1e-9)
    assert found.volts_at("C", 22.0) == pytest.approx(-400.0 / math.e, rel=1e-9)
    assert found.seconds_to("C", 401.0) == 0.0


def test_coils_discharge_through_their_wire() -> None:
    core = Transformer("T", (Coil("p", "b", "c", 1.0, 300.0), Coil("s", "x", "y", 1.0, 1.0)), 10.0)
    circuit = circuit_of(
        Capacitor("C", "a", "0", 10e-6),
        Inductor("L", "a", "b", 10.0, 200.0),
        core,
        Resistor("R", "c", "0", 500.0),
    )
    assert decay(circuit, {"C": 100.0}).seconds_to("C", 10.0) == pytest.approx(
        10e-3 * math.log(10.0), rel=1e-9
    )


def test_mains_loads_and_tubes_are_taken_out() -> None:
    circuit = circuit_of(
        Capacitor("C", "a", "0", 10e-6),
        Source("V", "a", "0", dc=400.0),
        CurrentLoad("I", "a", "0", 0.1),
        Triode("V1", "a", "0", "0", amplifiers.CG7),
        *amplifiers.bridge("D", "a", "0", "a", "0"),
    )
    assert decay(circuit, {"C": 400.0}).seconds_to("C", 50.0) == math.inf


def test_parallel_capacitors_share_at_once_and_charge_is_kept() -> None:
    circuit = circuit_of(
        Capacitor("C1", "a", "0", 30e-6),
        Capacitor("C2", "a", "0", 10e-6),
        Resistor("R", "a", "0", 1e5),
    )
    found = decay(circuit, {"C1": 400.0})
    assert found.volts_at("C1", 0.0) == pytest.approx(300.0, rel=1e-12)
    assert found.volts_at("C2", 4.0) == pytest.approx(300.0 / math.e, rel=1e-9)


def test_stack_without_its_resistors_keeps_part_of_its_charge() -> None:
    """Unequal halves charged to one current: the ends meet, the halves stay opposed."""
    stack = [Capacitor("C1", "a", "m", 10e-6), Capacitor("C2", "m", "0", 20e-6)]
    bleeder = Resistor("R", "a", "0", 1e5)
    balanced = decay(circuit_of(*stack, bleeder), {"C1": 200.0, "C2": 100.0})
    assert balanced.kept == pytest.approx([0.0, 0.0], abs=1e-9)
    assert balanced.seconds_to("C1", 50.0) == pytest.approx(
        1e5 * 20e-6 / 3 * math.log(4.0), rel=1e-9
    )
    skewed = decay(circuit_of(*stack, bleeder), {"C1": 200.0, "C2": 200.0})
    # The middle keeps C2 * 200 - C1 * 200 = 2 mC on 30 uF.
    assert skewed.volts_at("C2", 1e4) == pytest.approx(2e-3 / 30e-6, rel=1e-9)
    assert skewed.volts_at("C1", 1e4) == pytest.approx(-2e-3 / 30e-6, rel=1e-9)
    assert skewed.seconds_to("C2", 50.0) == math.inf
    assert skewed.seconds_to("C2", 70.0) < 10.0


def test_what_has_no_path_keeps_its_charge_exactly() -> None:
    circuit = circuit_of(
        Capacitor("C1", "a", "b", 1e-6),
        Capacitor("C2", "c", "0", 1e-6),
        Resistor("R", "c", "d", 1e3),
    )
    found = decay(circuit, {"C1": 350.0, "C2": 250.0})
    for seconds in (0.0, 1.0, 1e9):
        assert found.volts_at("C1", seconds) == 350.0
        assert found.volts_at("C2", seconds) == 250.0
    assert found.seconds_to("C1", 60.0) == found.seconds_to("C2", 60.0) == math.inf


def test_nearly_no_path_is_still_a_path() -> None:
    circuit = circuit_of(Capacitor("C", "a", "0", 1e-3), Resistor("R", "a", "0", 1e12))
    found = decay(circuit, {"C": 100.0})
    assert found.seconds_to("C", 50.0) == pytest.approx(1e9 * math.log(2.0), rel=1e-6)


def test_the_last_crossing_counts() -> None:
    """An empty capacitor is charged from a full one through 10 kohm before both drain.

    Hand result: v2 = (V0 / (R1 C)) (exp(-s1 t) - exp(-s2 t)) / (s2 - s1) for equal C.
    """
    c, r1, r2 = 10e-6, 1e4, 1e6
    circuit = circuit_of(
        Capacitor("C1", "a", "0", c),
        Resistor("R1", "a", "b", r1),
        Capacitor("C2", "b", "0", c),
        Resistor("R2", "b", "0", r2),
    )
    found = decay(circuit, {"C1": 300.0})
    assert found.volts_at("C2", 0.0) == pytest.approx(0.0, abs=1e-9)
    assert found.seconds_to("C2", 50.0) > 10.0
    total, product = 2.0 / (r1 * c) + 1.0 / (r2 * c), 1.0 / (r1 * r2 * c * c)
    slow, fast = np.sort(np.roots([1.0, -total, product]).real)
    when = found.seconds_to("C2", 50.0)
    volts = 300.0 / (r1 * c) * (math.exp(-slow * when) - math.exp(-fast * when)) / (fast - slow)
    assert volts == pytest.approx(50.0, rel=1e-9)


def test_push_pull_amplifier_by_time_stepping() -> None:
    """The exact answer against backward Euler with ever smaller steps, an independent method."""
    circuit = amplifiers.push_pull()
    state = periodic_state(circuit)
    names = [e.name for e in circuit.elements if isinstance(e, Capacitor)]
    initial = {name: float(np.max(state.across(name))) for name in names}
    found = decay(circuit, initial)
    nodes = {circuit.ground: 0}
    for name in state.network.index:
        nodes.setdefault(name, len(nodes))
    size = len(nodes)
    g, b, charge = np.zeros((size, size)), np.zeros((size, len(names))), []

    def join(a: str, z: str, ohms: float) -> None:
        i, j = nodes[a], nodes[z]
        g[i, i] += 1.0 / ohms
        g[j, j] += 1.0 / ohms
        g[i, j] -= 1.0 / ohms
        g[j, i] -= 1.0 / ohms

    for element in circuit.elements:
        if isinstance(element, Resistor):
            join(element.a, element.b, element.ohms)
        elif isinstance(element, Transformer):
            for coil in element.coils:
                join(coil.a, coil.b, coil.ohms)
        elif isinstance(element, Capacitor):
            b[nodes[element.a], len(charge)] += 1.0
            b[nodes[element.b], len(charge)] -= 1.0
            charge.append(element.farads)
    volts, c, when = np.array([initial[n] for n in names]), np.array(charge), 0.0
    for step in np.diff(np.concatenate([[0.0], np.geomspace(1e-5, 60.0, 6000)])):
        matrix = g + (b * c / step) @ b.T
        rise = np.linalg.solve(
            matrix[1:, 1:] + 1e-15 * np.eye(size - 1), (b @ (c / step * volts))[1:]
        )
        volts = b.T @ np.concatenate([[0.0], rise])
        when += step
    for name, value in zip(names, volts, strict=True):
        assert found.volts_at(name, when) == pytest.approx(value, rel=5e-3, abs=0.05), name


@st.composite
def networks(draw: st.DrawFn) -> Circuit:
    """Resistors and capacitors between any of a few nodes, many of them loose ends."""
    elements: list[Element] = []
    count = draw(st.integers(2, 7))
    node = st.integers(0, count - 1).map(str)
    for k in range(draw(st.integers(1, 6))):
        farads = 10.0 ** draw(st.floats(-9.0, -3.0))
        elements.append(Capacitor(f"C{k}", draw(node), draw(node), farads))
    for k in range(draw(st.integers(0, 6))):
        elements.append(
            Resistor(f"R{k}", draw(node), draw(node), 10.0 ** draw(st.floats(0.0, 7.0)))
        )
    return Circuit(tuple(elements), "0")


@settings(max_examples=150, deadline=None)
@given(networks(), st.lists(st.floats(-500.0, 500.0), min_size=6, max_size=6))
def test_energy_only_falls_and_crossings_hold(circuit: Circuit, volts: list[float]) -> None:
    capacitors = [e for e in circuit.elements if isinstance(e, Capacitor)]
    initial = {c.name: v for c, v in zip(capacitors, volts, strict=False)}
    found = decay(circuit, initial)

    def energy(seconds: float) -> float:
        return sum(0.5 * c.farads * found.volts_at(c.name, seconds) ** 2 for c in capacitors)

    before = sum(0.5 * c.farads * initial[c.name] ** 2 for c in capacitors)
    for seconds in (0.0, 1e-6, 1e-3, 1e-1, 10.0, 1e4, 1e9):
        after = energy(seconds)
        assert after <= before * (1.0 + 1e-6) + 1e-12
        before = after
    for capacitor in capacitors:
        when = found.seconds_to(capacitor.name, 50.0)
        if when == math.inf:
            assert abs(found.volts_at(capacitor.name, 1e15)) >= 50.0 * (1.0 - 1e-9)
        else:
            for later in (1.0001, 2.0, 10.0, 1e3):
                size = abs(found.volts_at(capacitor.name, when * later + 1e-12))
                assert size <= 50.0 * (1.0 + 1e-6)


def test_bad_values_are_refused_by_name() -> None:
    good = circuit_of(Capacitor("C", "a", "0", 1e-6), Resistor("R", "a", "0", 1e3))
    with pytest.raises(KeyError):
        decay(good, {"C7": 5.0})
    with pytest.raises(KeyError):
        decay(good, {"C": 5.0}).seconds_to("C7", 50.0)
    with pytest.raises(NotSolved, match="C"):
        decay(good, {"C": math.nan})
    bad = circuit_of(Capacitor("C", "a", "0", 1e-6), Resistor("R", "a", "0", -1e3))
    with pytest.raises(NotSolved, match="R"):
        decay(bad, {"C": 5.0})


@pytest.mark.ngspice
def test_discharge_agrees_with_ngspice(spice: ModuleType) -> None:
    """Times to 50 V of the line stage's supply within 0.5 %, tubes and rectifiers out."""
    full = amplifiers.without_tubes(amplifiers.line_stage())
    kept = tuple(
        e._replace(ohms=47e3) if e.name == "bleeder" else e  # type: ignore[call-arg]
        for e in full.elements
        if isinstance(e, Resistor | Capacitor) and e.name not in {"tie", "fuse", "switch"}
    )
    circuit = Circuit(kept, "0")
    initial = {"C10": 350.0, "C11": 330.0, "C12": 310.0, "C2": 120.0}
    found = decay(circuit, initial)
    run = spice.transient(circuit, 25.0, 5e-3, initial)
    for name, a in (("C10", "B1"), ("C11", "B2"), ("C12", "B3")):
        volts = run.volts(a)
        last = int(np.nonzero(np.abs(volts) > 50.0)[0][-1])
        when = float(np.interp(-50.0, -volts[last : last + 2], run.time[last : last + 2]))
        assert found.seconds_to(name, 50.0) == pytest.approx(when, rel=5e-3), name
