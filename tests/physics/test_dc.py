"""Operating points: by hand, by Kirchhoff's laws, against makers' tables and ngspice."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from coldcheck.lint.physics import dc
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
    ZenerDiode,
)
from coldcheck.lint.physics.dc import operating_point
from coldcheck.lint.physics.floating import floating_nodes
from coldcheck.lint.physics.matrices import Network
from physics import amplifiers, kirchhoff

DATA = Path(__file__).parent / "data"
Way = Callable[[Network, dc.Equations, np.ndarray], tuple[bool, np.ndarray]]


AMPLIFIERS = {
    "single ended": (amplifiers.single_ended, ("B2",)),
    "push pull": (amplifiers.push_pull, ("B1", "bias")),
    "line stage": (amplifiers.line_stage, ("B1",)),
}


def on_batteries(name: str, rail: float) -> Circuit:
    """An amplifier with a source in place of each rectifier, and no mains side."""
    make, rails = AMPLIFIERS[name]
    mains = {"mains", "tie", "fuse", "switch", "T1", "insulation", "heaters", "filament", "wire"}
    mains |= {"hum 1", "hum 2"}
    kept = tuple(e for e in make().elements if e.name not in mains and not hasattr(e, "anode"))
    volts = {"B1": rail, "B2": rail, "bias": -0.11 * rail}
    return Circuit((*kept, *(Source(f"to {n}", n, "0", dc=volts[n]) for n in rails)), "0")


def test_divider() -> None:
    point = operating_point(
        Circuit(
            (
                Source("B", "a", "0", dc=9.0),
                Resistor("R1", "a", "b", 1e3),
                Resistor("R2", "b", "0", 2e3),
            ),
            "0",
        )
    )
    assert point.volts["b"] == pytest.approx(6.0, rel=1e-12)
    assert point.amperes == pytest.approx({"B": -3e-3, "R1": 3e-3, "R2": 3e-3}, rel=1e-12)


def test_steady_current_sees_coils_as_their_wire() -> None:
    coils = (Coil("p", "a", "b", 10.0, 100.0), Coil("s", "c", "0", 1.0, 1.0))
    for magnetising in (None, 5.0):
        point = operating_point(
            Circuit(
                (
                    Source("B", "a", "0", dc=10.0, peak=300.0),
                    Transformer("T", coils, magnetising),
                    Inductor("L", "b", "d", 3.0, 50.0),
                    Resistor("R", "d", "0", 850.0),
                    Resistor("load", "c", "0", 8.0),
                    Capacitor("C", "d", "0", 1e-6),
                ),
                "0",
            )
        )
        assert point.amperes["p"] == pytest.approx(0.01, rel=1e-9)
        assert point.amperes["L"] == pytest.approx(0.01, rel=1e-9)
        assert point.amperes["s"] == pytest.approx(0.0, abs=1e-12)
        assert point.amperes["C"] == 0.0


def test_current_load_and_small_resistor() -> None:
    point = operating_point(
        Circuit(
            (
                Source("B", "a", "0", dc=10.0),
                Resistor("W", "a", "b", 1e-5),
                CurrentLoad("I", "b", "0", 2.0),
            ),
            "0",
        )
    )
    assert point.amperes["W"] == pytest.approx(2.0, rel=1e-9)
    assert point.volts["b"] == pytest.approx(10.0 - 2e-5, rel=1e-12)


def test_zener_shunt_regulator() -> None:
    """Hand result: 100 V through 1 kohm into 75 V with 50 ohm: 25 V / 1050 ohm."""
    point = operating_point(
        Circuit(
            (
                Source("B", "a", "0", dc=100.0),
                Resistor("R", "a", "z", 1e3),
                ZenerDiode("Z", "0", "z", 75.0, 50.0),
            ),
            "0",
        )
    )
    assert point.amperes["Z"] == pytest.approx(-25.0 / 1050.0, rel=1e-6)
    assert point.volts["z"] == pytest.approx(75.0 + 50.0 * 25.0 / 1050.0, rel=1e-6)


def test_capacitors_in_series_share_as_they_charge() -> None:
    point = operating_point(
        Circuit(
            (
                Source("B", "a", "0", dc=90.0),
                Capacitor("C1", "a", "m", 1e-6),
                Capacitor("C2", "m", "0", 2e-6),
            ),
            "0",
        )
    )
    assert point.volts["m"] == pytest.approx(30.0, rel=1e-9)


@st.composite
def networks(draw: st.DrawFn) -> Circuit:
    """Connected resistor networks with a few sources in series with resistors."""
    count = draw(st.integers(2, 9))
    ohms = st.floats(-1.0, 6.5).map(lambda e: 10.0**e)
    elements: list[Element] = []
    for node in range(1, count):
        other = draw(st.integers(0, node - 1))
        elements.append(Resistor(f"R{node}", str(node), str(other), draw(ohms)))
    for k in range(draw(st.integers(0, 8))):
        a, b = draw(st.integers(0, count - 1)), draw(st.integers(0, count - 1))
        elements.append(Resistor(f"X{k}", str(a), str(b), draw(ohms)))
    for k in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, count - 1))
        # to the nanovolt: subnormal volts have no digits left to balance currents with
        volts = round(draw(st.floats(-500.0, 500.0)), 9)
        elements.append(Source(f"V{k}", f"s{k}", "0", dc=volts))
        elements.append(Resistor(f"S{k}", f"s{k}", str(at), draw(ohms)))
    return Circuit(tuple(elements), "0")


@settings(max_examples=100, deadline=None)
@given(networks())
def test_kirchhoff_and_power_in_random_networks(circuit: Circuit) -> None:
    point = operating_point(circuit)
    worst, largest = kirchhoff.imbalance(circuit, point)
    # A current read as a difference of two voltages is as exact as those are.
    least = min(e.ohms for e in circuit.elements if isinstance(e, Resistor))
    highest = max(map(abs, point.volts.values()))
    reading = 4.0 * np.finfo(float).eps * highest / least
    assert worst <= 1e-9 * largest + reading
    products = [
        (point.volts[e.a] - point.volts[e.b]) * point.amperes[e.name]  # type: ignore[union-attr]
        for e in circuit.elements
    ]
    assert abs(sum(products)) <= 1e-9 * sum(abs(p) for p in products) + 1e-12 + reading * highest


@pytest.mark.parametrize(
    "way", [dc.newton, dc.pseudo_transient, dc.conductance_stepping, dc.source_stepping]
)
@pytest.mark.parametrize("name", AMPLIFIERS)
def test_every_way_leads_to_the_same_point(name: str, way: Way) -> None:
    """The detours are seldom needed, so they are walked here."""
    network = Network(on_batteries(name, 320.0))
    devices = dc.Devices(network, network.diodes, network.diode_ports)
    equations = devices.equations(network.dc, network.steady)
    found, x = way(network, equations, devices.start)
    assert found
    expected = dc.solve(network, equations, devices.start)
    assert x == pytest.approx(expected, rel=1e-6, abs=1e-6)


def disturbed(circuit: Circuit, random: np.random.Generator) -> Circuit:
    """Every resistor off by up to ten times, up to two of them gone."""
    elements = [
        e._replace(ohms=e.ohms * 10.0 ** random.uniform(-1.0, 1.0))
        if isinstance(e, Resistor)
        else e
        for e in circuit.elements
    ]
    resistors = [e for e in elements if isinstance(e, Resistor)]
    for k in random.choice(len(resistors), int(random.integers(0, 3)), replace=False):
        elements.remove(resistors[int(k)])
    return Circuit(tuple(elements), circuit.ground)


@pytest.mark.parametrize("name", AMPLIFIERS)
def test_disturbed_amplifiers_are_solved_or_refused_by_name(name: str) -> None:
    """70 of each; refusals would have to name a node or element.  None is refused today."""
    random = np.random.default_rng(7)
    solved = 0
    for _ in range(70):
        circuit = disturbed(on_batteries(name, float(random.uniform(100.0, 1500.0))), random)
        try:
            point = operating_point(circuit)
        except NotSolved as refusal:
            assert refusal.nodes or refusal.elements
            assert any(part in str(refusal) for part in (*refusal.nodes, *refusal.elements))
            continue
        solved += 1
        loose = {node for group in floating_nodes(circuit) for node in group}
        worst, largest = kirchhoff.imbalance(circuit, point)
        allowed = 1e-8 + 1e-9 * largest
        if loose:
            allowed += 2e-9 * max(abs(point.volts[n]) for n in loose)
        assert worst <= allowed
    assert solved == 70


@pytest.mark.parametrize(
    ("element", "word"),
    [
        (Resistor("R9", "a", "0", float("nan")), "R9"),
        (Resistor("R9", "a", "0", -5.0), "R9"),
        (Capacitor("C9", "a", "0", float("inf")), "C9"),
        (Source("V9", "a", "0", dc=5.0), "V9"),
        (Resistor("R1", "a", "0", 5.0), "R1"),
    ],
)
def test_unusable_elements_are_named(element: Element, word: str) -> None:
    circuit = (Source("B", "a", "0", dc=9.0), Resistor("R1", "a", "0", 1e3), element)
    with pytest.raises(NotSolved, match=word) as refused:
        operating_point(Circuit(circuit, "0"))
    assert refused.value.elements == (word,)


def test_a_node_held_by_nothing_is_named() -> None:
    circuit = Circuit((CurrentLoad("I", "x", "0", 1.0), Capacitor("C", "x", "0", 1e-6)), "0")
    with pytest.raises(NotSolved, match="node x") as refused:
        operating_point(circuit)
    assert refused.value.nodes == ("x",)


@pytest.mark.ngspice
@pytest.mark.parametrize("name", AMPLIFIERS)
def test_operating_points_agree_with_ngspice(name: str, spice: ModuleType) -> None:
    """Found to agree within 1e-8 V."""
    circuit = on_batteries(name, 300.0)
    point, run = operating_point(circuit), spice.operating_point(circuit)
    for node, volts in point.volts.items():
        assert volts == pytest.approx(float(run.volts(node)[0]), rel=1e-6, abs=1e-5), node
