"""The load a plate sees, against what is on the schematic."""

from __future__ import annotations

import math

import pytest

from coldcheck.lint.physics.circuit import Circuit, Resistor, Source
from coldcheck.lint.physics.plate_load import plate_load
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers


def test_dc_load_of_a_resistance_coupled_stage_is_its_resistors() -> None:
    """A triode alone on a battery: 47 kohm at the plate, 1 kohm at the cathode."""
    parts = (
        Source("mains", "line", "0", peak=10.0),
        Resistor("load", "line", "0", 1e3),
        Source("battery", "B", "0", dc=250.0),
        *amplifiers.preamplifier("B", "B")[:5],
    )
    assert plate_load(periodic_state(Circuit(parts, "0")), "V1") == pytest.approx(48e3, rel=1e-6)


def test_ac_load_of_a_bypassed_stage_leaves_the_supply_out() -> None:
    """At 1 kHz the decoupling capacitors are a few ohms; the follower's grid loads nothing."""
    state = periodic_state(amplifiers.line_stage())
    assert plate_load(state, "V1", 1e3).real == pytest.approx(47e3, rel=2e-3)


def test_a_transformer_reflects_its_load() -> None:
    """n^2 (R + r2) + r1 in parallel with the primary's reactance, 25:1, 8 ohm, 12 H."""
    state = periodic_state(amplifiers.single_ended())
    reflected = 25.0**2 * (8.0 + 0.4)
    reactance = 2j * math.pi * 1e3 * 12.0
    expected = 200.0 + reflected * reactance / (reflected + reactance)
    assert plate_load(state, "V2L", 1e3) == pytest.approx(expected, rel=5e-3)
    assert plate_load(state, "V2L").real > 200.0 + 330.0 + 150.0  # the wires, then the rectifier


def test_what_is_no_tube_is_a_key_error() -> None:
    state = periodic_state(amplifiers.line_stage())
    with pytest.raises(KeyError):
        plate_load(state, "R1")
