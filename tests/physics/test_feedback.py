"""Feedback found on circuits whose loops are known by drawing."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldcheck.lint.physics.circuit import Capacitor, Circuit, Resistor, Source, Transformer, Triode
from coldcheck.lint.physics.feedback import Return, returns
from coldcheck.lint.physics.large_signal import Generator
from coldcheck.lint.physics.small_signal import SmallSignal, loop_gain
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers, benches


def found(amplifier: benches.Amplifier, circuit: Circuit | None = None) -> tuple[Return, ...]:
    state = periodic_state(circuit or amplifier.circuit)
    linear = SmallSignal(state, [amplifier.generator])
    return returns(linear, amplifier.output, (amplifier.load,))


def test_the_one_resistor_from_the_loudspeaker_is_found() -> None:
    (only,) = found(benches.push_pull())
    assert only.branch.names == ("R5",)
    assert only.overall
    assert not only.positive


def test_it_is_positive_with_the_secondary_turned() -> None:
    amplifier = benches.push_pull()
    turned = []
    for element in amplifier.circuit.elements:
        if isinstance(element, Transformer):
            *primaries, secondary = element.coils
            coils = (*primaries, secondary._replace(a=secondary.b, b=secondary.a))
            element = element._replace(coils=coils)
        turned.append(element)
    (only,) = found(amplifier, amplifier.circuit._replace(elements=tuple(turned)))
    assert only.branch.names == ("R5",)
    assert only.positive


@pytest.mark.parametrize("make", [benches.single_ended, benches.line_stage])
def test_none_is_found_where_none_is_drawn(make: benches.Maker) -> None:
    assert found(make()) == ()


def test_a_capacitor_across_the_resistor_belongs_to_it() -> None:
    amplifier = benches.push_pull()
    lead = Capacitor("C5", "speaker", "feedback", 470e-12)
    circuit = amplifier.circuit._replace(elements=(*amplifier.circuit.elements, lead))
    (only,) = found(amplifier, circuit)
    assert set(only.branch.names) == {"R5", "C5"}


def test_feedback_within_a_stage_is_not_from_the_output() -> None:
    """Plate to grid of the first of two stages: it stays with the output held still."""
    circuit = Circuit(
        (
            Source("B", "B", "0", dc=250.0),
            Resistor("R0", "in", "0", 1e6),
            Resistor("R1", "in", "grid", 470e3),
            Capacitor("C1", "plate", "back", 1e-6),
            Resistor("leak", "back", "0", 10e6),
            Resistor("R2", "back", "grid", 1e6),
            Triode("V1", "plate", "grid", "k", amplifiers.CG7),
            Resistor("R3", "k", "0", 1000.0),
            Capacitor("C2", "k", "0", 100e-6),
            Resistor("R4", "B", "plate", 47e3),
            Capacitor("C3", "plate", "grid 2", 100e-9),
            Resistor("R5", "grid 2", "0", 1e6),
            Triode("V2", "out", "grid 2", "k 2", amplifiers.CG7),
            Resistor("R6", "k 2", "0", 1000.0),
            Resistor("R7", "B", "out", 47e3),
        ),
        "0",
    )
    state = periodic_state(circuit)
    linear = SmallSignal(state, [Generator("in", "0", 1e3)])
    several = returns(linear, ("out", "0"))
    assert {name for r in several for name in r.branch.names} == {"C1", "R2"}
    for one in several:
        assert not one.positive
        assert not one.overall
        # what taking it out shows is what the two-port at its ends shows
        loop = loop_gain(state, one.branch, linear.generators)(np.array([1e3]))[0]
        assert one.loop == pytest.approx(loop, rel=1e-6)
        assert math.isfinite(abs(loop))
