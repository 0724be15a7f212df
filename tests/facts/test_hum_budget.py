"""The hum budget: what a volt here is worth there, and how causes add up."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldcheck.lint.facts.full_drive import Output
from coldcheck.lint.facts.hum_budget import Budget, Cause, HumBudget
from coldcheck.lint.physics.circuit import Resistor, Source, Transformer, Triode
from coldcheck.lint.physics.small_signal import SmallSignal
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.lint.state.values import study_of
from documents import ROOT
from physics import benches

OUT = Output("J3", "speaker", "0V", "J3.load")


def budget(*volts: float) -> Budget:
    causes = tuple(Cause(f"cause {k}", v, "", ()) for k, v in enumerate(sorted(volts)[::-1]))
    return Budget(OUT, causes, 10.0, None)


def test_causes_add_as_squares() -> None:
    assert budget(3e-3, 4e-3).volts == pytest.approx(5e-3)
    assert budget(1e-3).below(8.0) == pytest.approx(10.0 * math.log10(80.0 / 1e-6))


def test_what_halves_the_whole_is_told_or_said_to_be_too_little() -> None:
    alone = budget(1e-3)
    assert alone.halving == pytest.approx(0.5)
    mixed = budget(1e-3, 0.3e-3)
    left = mixed.halving
    assert left is not None
    halved = math.hypot(left * 1e-3, 0.3e-3)
    assert halved == pytest.approx(0.5 * mixed.volts)
    assert budget(1e-3, 1e-3).halving is None


def test_a_volt_at_a_grid_is_one_of_the_generator() -> None:
    """The first grid of an amplifier hangs on the source by nothing but its resistance."""
    amplifier = benches.line_stage()
    linear = SmallSignal(periodic_state(amplifier.circuit), [amplifier.generator])
    grid = linear.heard(linear.at_grid("V1"), amplifier.output, 1e3)
    source = linear.gains([amplifier.output], np.array([1e3]))[0, 0]
    # the source is divided by its own ohms and the leak, the grid's own volt is not
    leak = next(e.ohms for e in amplifier.circuit.elements if e.name == "R1")  # type: ignore[union-attr]
    assert grid == pytest.approx(source * (leak + amplifier.generator.ohms) / leak, rel=1e-3)
    assert any(isinstance(e, Triode) for e in amplifier.circuit.elements)


def test_flux_from_elsewhere_is_heard_behind_the_primary_inductance() -> None:
    """e n2 / n1 of an unloaded secondary whose primary hangs on nothing."""
    amplifier = benches.single_ended()
    kept = [
        e for e in amplifier.circuit.elements if not isinstance(e, Resistor) or e.name != "LS L"
    ]
    load = Resistor("LS L", "speaker L", "0", 1e9)
    circuit = amplifier.circuit._replace(elements=(*kept, load))
    linear = SmallSignal(periodic_state(circuit), [amplifier.generator])
    core = next(e for e in circuit.elements if isinstance(e, Transformer))
    ratio = core.coils[1].turns / core.coils[0].turns
    heard = linear.heard(linear.in_series(core.name), ("speaker L", "0"), 50.0)
    # the core's reactance lets it be less; a few per cent more is its resonance with C3
    assert 0.5 * ratio < abs(heard) <= 1.05 * ratio
    assert any(isinstance(e, Source) for e in circuit.elements)


@pytest.mark.parametrize("demo", ["lantern", "heron", "harbour"])
def test_every_cause_of_a_demo_is_there(demo: str) -> None:
    found = study_of(ROOT / f"projects/{demo}.toml").get("HumBudget")
    assert isinstance(found, HumBudget)
    assert not found.lacks
    for one in found.budgets:
        names = " ".join(cause.name for cause in one.causes)
        for way in ("supply ripple", "ground wires", "field of T1", "heater of V1"):
            assert way in names
        assert [c.volts for c in one.causes] == sorted((c.volts for c in one.causes), reverse=True)
        assert one.volts >= one.causes[0].volts > 0.0
