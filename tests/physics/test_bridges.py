"""A bridge solved as two diodes against the same bridge solved as four."""

from __future__ import annotations

import math
from types import ModuleType

import numpy as np
import pytest

from coldcheck.lint.physics.bridges import Bridge, bridges
from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    Element,
    Resistor,
    SiliconDiode,
    Source,
    Transformer,
)
from coldcheck.lint.physics.dc import operating_point
from coldcheck.lint.physics.start import cold_start
from coldcheck.lint.physics.supply import periodic_state
from physics import agreement, amplifiers

LEGS = ("D1", "D2", "D3", "D4")
WINDING = Coil("s", "a1", "a2", 250.0, 20.0)


def supply(*more: Element, legs: list[Element] | None = None, winding: Coil = WINDING) -> Circuit:
    parts = amplifiers.bridge("D", "a1", "a2", "B1", "0") if legs is None else legs
    made = (
        Source("mains", "primary", "neutral", peak=math.sqrt(2.0) * 230.0),
        Resistor("tie", "neutral", "0", 1.0),
        amplifiers.transformer(5.0, winding, Coil("h", "h1", "0", 6.3, 0.05)),
        *parts,
        Capacitor("C1", "B1", "0", 47e-6),
        Resistor("R1", "B1", "B2", 220.0),
        Capacitor("C2", "B2", "0", 47e-6),
        Resistor("load", "B2", "0", 4.7e3),
        *more,
    )
    return Circuit(made, "0")


def apart(circuit: Circuit) -> Circuit:
    """The same with one of the diodes unlike the others, by what no figure shows."""
    made = (
        e._replace(saturation=e.saturation * (1.0 + 1e-12))
        if isinstance(e, SiliconDiode) and e.name == "D1"
        else e
        for e in circuit.elements
    )
    return Circuit(tuple(made), circuit.ground, circuit.mains_hz)


def test_opposite_arms_are_found() -> None:
    assert bridges(supply()) == (Bridge(("D1", "D4"), ("D2", "D3"), ("a1", "a2")),)
    assert bridges(apart(supply())) == ()


def test_order_and_snubbers_within_do_not_matter() -> None:
    legs = amplifiers.bridge("D", "a1", "a2", "B1", "0")[::-1]
    snubber = [Capacitor("Cs", "a1", "x", 1e-8), Resistor("Rs", "x", "a2", 100.0)]
    (found,) = bridges(supply(*snubber, legs=legs))
    assert {frozenset(found.one), frozenset(found.other)} == {
        frozenset({"D1", "D4"}),
        frozenset({"D2", "D3"}),
    }


@pytest.mark.parametrize(
    "more",
    [
        Resistor("x", "a1", "0", 1e7),
        Capacitor("x", "a2", "0", 1e-9),
        Source("x", "a1", "h1"),
        amplifiers.silicon("x", "0", "a1"),
        amplifiers.silicon("x", "a1", "elsewhere"),
    ],
    ids=["tied", "by a capacitor", "to a winding", "doubled arm", "another rectifier"],
)
def test_a_winding_with_another_way_out_is_none(more: Element) -> None:
    """Then its current may go out by one diode and come back by no other."""
    assert bridges(supply(more)) == ()


def test_strings_of_two_diodes_are_no_bridge() -> None:
    """Three of them between the rails, each middle on a winding of its own, whose other end is free."""
    legs = [
        amplifiers.silicon(f"{way}{k}", *ends)
        for k in range(3)
        for way, ends in (("up", (f"m{k}", "B1")), ("down", ("0", f"m{k}")))
    ]
    cores = [Coil(f"w{k}", f"m{k}", f"free {k}", 100.0, 10.0) for k in range(3)]
    circuit = supply(legs=legs)
    core = next(e for e in circuit.elements if isinstance(e, Transformer))
    wound = core._replace(coils=(*core.coils, *cores))
    made = tuple(wound if e is core else e for e in circuit.elements)
    assert bridges(circuit._replace(elements=made)) == ()


def test_other_rectifiers_are_none() -> None:
    legs = amplifiers.bridge("D", "a1", "a2", "B1", "0")
    first, second, third, fourth = legs
    assert isinstance(second, SiliconDiode) and isinstance(fourth, SiliconDiode)
    turned = second._replace(anode=second.cathode, cathode=second.anode)
    assert bridges(supply(legs=[first, turned, third, fourth])) == ()
    assert bridges(supply(legs=[first, second, third])) == ()
    elsewhere = second._replace(cathode="B2")
    assert bridges(supply(legs=[first, elsewhere, third, fourth])) == ()
    warmer = fourth._replace(ohms=0.08)
    assert bridges(supply(legs=[first, second, third, warmer])) == ()
    assert bridges(supply(winding=WINDING._replace(a="0"))) == ()


def figures(circuit: Circuit, start: Circuit | None = None) -> np.ndarray:
    """Mean, ripple, rms and peak of everything a bridge touches, in V and A."""
    before = None if start is None else periodic_state(start, 256)
    state = periodic_state(circuit, 256, before)
    kinds = (Coil, Capacitor, SiliconDiode)
    wound = [name for name, e in state.network.elements.items() if isinstance(e, kinds)]
    found = [[state.mean(n), state.ripple(n)] for n in ("B1", "B2")]
    found += [[np.std(state.amperes(n)), abs(state.peak_amperes(n))] for n in wound]
    return np.array(found)


def test_two_and_four_diodes_settle_alike() -> None:
    """On random supplies, also where each starts from the other."""
    random = np.random.default_rng(3)
    several = [supply(), *(amplifiers.random_supply("bridge", False, random) for _ in range(6))]
    for circuit in several:
        two = figures(circuit)
        assert two == pytest.approx(figures(apart(circuit)), rel=1e-5, abs=1e-7)
        assert two == pytest.approx(figures(circuit, apart(circuit)), rel=1e-5, abs=1e-7)
        assert two == pytest.approx(figures(apart(circuit), circuit), rel=1e-5, abs=1e-7)


def test_an_unlike_bridge_starts_from_a_like_one() -> None:
    """A diode shorted: the state of the whole bridge is a guess, not an answer."""
    whole = supply()
    faulty = Circuit(
        tuple(Resistor("D1", "a1", "B1", 1.0) if e.name == "D1" else e for e in whole.elements),
        "0",
    )
    assert bridges(faulty) == ()
    assert figures(faulty, whole) == pytest.approx(figures(faulty), rel=1e-5, abs=1e-7)


def test_two_and_four_diodes_start_alike() -> None:
    two, four = cold_start(supply(), 10), cold_start(apart(supply()), 10)
    for name in ("C1", "C2", *LEGS):
        assert two.peak_volts(name) == pytest.approx(four.peak_volts(name), rel=1e-4)
    for name in ("s", "T1 primary", *LEGS):
        assert two.peak_amperes(name) == pytest.approx(four.peak_amperes(name), rel=1e-4)


def test_at_rest_it_holds_the_winding_between_its_rails() -> None:
    """Charged from outside, each arm has half the voltage across it and leaks the same."""
    charger = Source("dc", "B1", "0", dc=300.0)
    idle = [e._replace(peak=0.0) if isinstance(e, Source) else e for e in supply(charger).elements]
    point = operating_point(Circuit(tuple(idle), "0"))
    assert point.volts["a1"] == pytest.approx(150.0)
    assert point.volts["a2"] == pytest.approx(150.0)
    for leg in LEGS:
        assert point.amperes[leg] == pytest.approx(-5e-9, rel=1e-3)


@pytest.mark.ngspice
def test_two_diodes_agree_with_ngspices_four(spice: ModuleType) -> None:
    """Within the bars of :mod:`physics.agreement`, but for the mean voltage of the winding's ends.

    That is half of the rail by symmetry; ngspice's hangs on what it calls no current.
    """
    circuit = supply()
    assert bridges(circuit)
    state = periodic_state(circuit, 256)
    sensed = agreement.sensing(circuit)
    settled = agreement.settle(sensed, agreement.stored(sensed, state, agreement.OFF))
    errors = [
        error
        for error in agreement.steady(circuit, state, settled)
        if (error.kind, error.of) not in {("dc", "a1"), ("dc", "a2")}
    ]
    beyond = [e for e in (*errors, *agreement.first_moments(circuit)) if not e.passes]
    assert not beyond
    assert {e.kind for e in errors} == {"dc", "ripple", "rms", "peak", "VA"}
    for end in ("a1", "a2"):
        assert state.mean(end) == pytest.approx(0.5 * state.mean("B1"), rel=1e-9)
