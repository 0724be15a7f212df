"""Hum of ground wires against ngspice, and against what must hold of any such circuit."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from coldcheck.lint.physics.circuit import Capacitor, Circuit, Coil, Element, Resistor, Triode
from coldcheck.lint.physics.ground_hum import rms, spectrum, wired_hum
from coldcheck.lint.physics.supply import periodic_state
from physics import agreement, amplifiers

BAR = 0.01
"""Relative error of each figure of hum; seen were 0.15 % and less."""

WIRES = {"reservoir wire": 8e-3, "filter wire": 6e-3, "power wire": 5e-3, "first wire": 10e-3}
"""Resistance in ohms: some 8 to 20 cm of hook-up wire."""


def stages(first: str, power: str, filter_: str, reservoir: str, star: str) -> list[Element]:
    """Two triode stages on a supply that settles quickly, each with its own ground.

    The grid leak of the first is at the star, as is the output's return.
    """
    return [
        *amplifiers.mains(230.0),
        amplifiers.transformer(
            30.0,
            Coil("T1 plate 1", "a1", star, 240.0, 150.0),
            Coil("T1 plate 2", star, "a2", 240.0, 150.0),
        ),
        amplifiers.silicon("D1", "a1", "B1"),
        amplifiers.silicon("D2", "a2", "B1"),
        Capacitor("C1", "B1", reservoir, 10e-6),
        Resistor("R1", "B1", "B2", 2200.0),
        Capacitor("C2", "B2", filter_, 10e-6),
        Resistor("R2", "B2", "B3", 4700.0),
        Capacitor("C3", "B3", filter_, 10e-6),
        Resistor("bleeder", "B1", reservoir, 100e3),
        Resistor("leak", "grid", star, 100e3),
        Triode("V1", "plate 1", "grid", "k1", amplifiers.AX7),
        Resistor("R3", "k1", first, 1500.0),
        Resistor("R4", "B3", "plate 1", 100e3),
        Capacitor("C4", "plate 1", "grid 2", 100e-9),
        Resistor("R5", "grid 2", power, 100e3),
        Triode("V2", "plate 2", "grid 2", "k2", amplifiers.CG7),
        Resistor("R6", "k2", power, 1000.0),
        Resistor("R7", "B2", "plate 2", 22e3),
        Capacitor("C5", "plate 2", "output", 1e-6),
        Resistor("R8", "output", star, 47e3),
    ]


def bare() -> Circuit:
    """With ground one point."""
    return Circuit(tuple(stages("0", "0", "0", "0", "0")), "0")


def wired(first_goes_to: str) -> Circuit:
    """With a wire from each ground to the star, or that of the first stage elsewhere."""
    ends = {
        "reservoir wire": ("reservoir", "0"),
        "filter wire": ("filter", "0"),
        "power wire": ("power", "0"),
        "first wire": ("first", first_goes_to),
    }
    copper = [Resistor(name, *ends[name], ohms) for name, ohms in WIRES.items()]
    return Circuit((*stages("first", "power", "filter", "reservoir", "0"), *copper), "0")


REFERENCES = [("first", "0"), ("power", "first"), ("reservoir", "0"), ("filter", "power")]


QUICK = (agreement.Leg(4e-5, 3, 9), agreement.Leg(agreement.SHORT, 2, 4))


@pytest.mark.ngspice
def test_hum_agrees_with_ngspice(spice: ModuleType) -> None:
    """At the output and between the stages' references, wired well and wired badly, and what the
    output hums more for it."""
    state = periodic_state(bare())
    begin = agreement.stored(bare(), state, agreement.OFF)
    both = []
    for star in ("0", "reservoir"):
        circuit = wired(star)
        ours = wired_hum(state, circuit)
        cycle = agreement.settle(agreement.sensing(circuit), begin, QUICK).cycle
        for a, b in [("output", "0"), *REFERENCES]:
            theirs = spectrum((cycle.volts(a) - cycle.volts(b))[None, :])[:, 0]
            assert rms(ours.volts(a, b)) == pytest.approx(rms(theirs), rel=BAR), (star, a, b)
        both.append((ours.volts("output", "0"), spectrum(cycle.volts("output")[None, :])[:, 0]))
    (good, their_good), (bad, their_bad) = both
    assert rms(bad - good) > 0.1 * rms(good)
    assert rms(bad - good) == pytest.approx(rms(their_bad - their_good), rel=BAR)


def test_wires_of_no_resistance_bring_nothing() -> None:
    state, circuit = periodic_state(bare()), wired("0")
    thick = tuple(
        e._replace(ohms=1e-6) if isinstance(e, Resistor) and e.name in WIRES else e
        for e in circuit.elements
    )
    found = wired_hum(state, circuit._replace(elements=thick))
    alone = spectrum(state.volts("output")[None, :])[:, 0]
    assert rms(found.volts("output", "0") - alone) < 1e-4 * rms(alone)


@pytest.mark.parametrize("star", ["0", "reservoir"])
def test_the_conductors_bring_all_that_there_is_more(star: str) -> None:
    """Their parts add up to the difference between the circuit with wires and that without."""
    state, output = periodic_state(bare()), ("output", "0")
    found = wired_hum(state, wired(star))
    heard = found.heard(tuple(WIRES), output)
    parts = sum((times * found.along(name) for name, times in heard.items()), np.zeros(1))
    more = found.volts(*output) - spectrum(state.volts("output")[None, :])[:, 0]
    assert rms(parts - more) < 0.01 * rms(more)


def test_one_end_moved_to_the_reservoir_makes_its_wire_the_loudest() -> None:
    """The charging current's volts come to lie between cathode and grid of the first stage."""
    state, output = periodic_state(bare()), ("output", "0")
    good, bad = (wired_hum(state, wired(star)) for star in ("0", "reservoir"))
    heard = bad.heard(tuple(WIRES), output)
    brought = {name: rms(times * bad.along(name)) for name, times in heard.items()}
    assert max(brought, key=lambda name: brought[name]) == "reservoir wire"
    assert bad.along("reservoir wire") == pytest.approx(good.along("reservoir wire"), rel=1e-3)
    assert brought["reservoir wire"] > 20.0 * rms(
        good.heard(["reservoir wire"], output)["reservoir wire"] * good.along("reservoir wire")
    )


def test_a_state_of_another_circuit_is_refused() -> None:
    fewer = tuple(e for e in wired("0").elements if e.name != "D2")
    with pytest.raises(ValueError, match="rectifiers"):
        wired_hum(periodic_state(bare()), Circuit(fewer, "0"))
