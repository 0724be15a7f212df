"""Nodes without a dc path to ground, by their exact names."""

from __future__ import annotations

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    CurrentLoad,
    Inductor,
    Resistor,
    Source,
    Transformer,
    Triode,
)
from coldcheck.lint.physics.floating import floating_nodes
from physics import amplifiers


def stage(*more: object) -> Circuit:
    return Circuit(
        (
            Source("B", "B+", "0", dc=250.0),
            Resistor("R1", "B+", "plate", 100e3),
            Triode("V1", "plate", "grid", "cathode", amplifiers.AX7),
            Capacitor("C1", "in", "grid", 1e-8),
            *more,
        ),  # type: ignore[arg-type]
        "0",
    )


def test_a_grid_and_a_cathode_left_open_are_named() -> None:
    assert floating_nodes(stage()) == (("grid",), ("cathode",), ("in",))


def test_resistors_coils_and_sources_are_paths() -> None:
    core = Transformer("T1", (Coil("T1 a", "in", "0", 1.0, 5.0), Coil("T1 b", "x", "y", 1.0, 5.0)))
    circuit = stage(
        Resistor("R2", "grid", "0", 1e6),
        Inductor("L1", "cathode", "cathode bias", 1.0, 10.0),
        Source("bias", "cathode bias", "0", dc=1.5),
        core,
    )
    assert floating_nodes(circuit) == (("x", "y"),)


def test_current_loads_and_capacitors_are_no_path() -> None:
    circuit = Circuit((CurrentLoad("I", "a", "0", 1e-3), Capacitor("C", "a", "0", 1e-6)), "0")
    assert floating_nodes(circuit) == (("a",),)


def test_devices_count_as_paths_only_when_asked() -> None:
    elements = (*amplifiers.bridge("D", "a1", "a2", "B+", "0"), Capacitor("C", "B+", "0", 1e-6))
    winding = Transformer("T1", (Coil("p", "0", "m", 1.0, 1.0), Coil("s", "a1", "a2", 1.0, 1.0)))
    circuit = Circuit((*elements, winding), "0")
    assert floating_nodes(circuit) == (("a1", "a2"), ("B+",))
    assert floating_nodes(circuit, through_devices=True) == ()
    assert floating_nodes(stage(Resistor("R2", "cathode", "0", 1e3)), through_devices=True) == (
        ("grid",),
        ("in",),
    )


def test_complete_amplifiers_have_none() -> None:
    for make in (amplifiers.single_ended, amplifiers.push_pull, amplifiers.line_stage):
        assert floating_nodes(make()) == ()
