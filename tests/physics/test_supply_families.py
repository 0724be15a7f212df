"""Twenty random supplies of every family, tube and silicon: solved, balanced, started, emptied.

What must hold is told by the family: where the diodes' current goes, and how far above the
winding's crest an output can rise.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldcheck.lint.physics.circuit import Circuit, Coil, Transformer
from coldcheck.lint.physics.discharge import decay
from coldcheck.lint.physics.start import cold_start
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers, kirchhoff

EACH = 20
KINDS = pytest.mark.parametrize("tube", [False, True], ids=["silicon", "tube"])
FAMILIES = pytest.mark.parametrize("family", amplifiers.FAMILIES)
CRESTS = {"doubler": 2.0, "charge pump": 2.0}
"""Most volts of an output, in crests of the winding."""


def supplies(family: str, tube: bool) -> list[Circuit]:
    random = np.random.default_rng(11)
    return [amplifiers.random_supply(family, tube, random) for _ in range(EACH)]


def crest(circuit: Circuit) -> float:
    """Crest of a winding's open-circuit voltage, in volts."""
    core = next(e for e in circuit.elements if isinstance(e, Transformer))
    secondary: Coil = core.coils[1]
    return math.sqrt(2.0) * 230.0 * secondary.turns / core.coils[0].turns


@KINDS
@FAMILIES
def test_every_supply_settles(family: str, tube: bool) -> None:
    """The mean current into the load is the mean of what the last diodes pass; nothing is lost."""
    for circuit in supplies(family, tube):
        state = periodic_state(circuit)
        assert np.all(np.isfinite(state.solution))
        worst, largest = kirchhoff.imbalance(circuit, state)
        assert worst <= 1e-5 * largest + 2e-7
        law = state.network.diodes.currents(state.network.diode_ports @ state.solution)[0]
        assert np.abs(law - state.junction_amperes).max() <= 1e-3 * np.abs(law).max()
        # At the highest harmonic a coil counts as a resistor.
        taken, delivered = kirchhoff.power(circuit, state)
        assert abs(taken) <= 1e-3 * delivered
        load = float(state.amperes("load").mean())
        last = [d for d in circuit.elements if getattr(d, "cathode", "") == "B1"]
        passed = sum(float(state.amperes(d.name).mean()) for d in last)
        assert passed == pytest.approx(load, rel=1e-3, abs=1e-6)
        assert 0.0 < state.mean("B2") <= CRESTS.get(family, 1.0) * crest(circuit)


@KINDS
@FAMILIES
def test_every_supply_starts_and_empties(family: str, tube: bool) -> None:
    """No output passes its crests but behind a choke, which rings to no more than twice them."""
    for circuit in supplies(family, tube):
        start = cold_start(circuit, cycles=5)
        assert np.all(np.isfinite(start.solution))
        most = CRESTS.get(family, 2.0 if family == "choke input" else 1.0) * crest(circuit)
        assert 0.0 <= start.peak_node("B2") <= 1.005 * most
        held = start.peak_volts("C11")
        farads = next(e.farads for e in circuit.elements if e.name == "C11")  # type: ignore[union-attr]
        ohms = next(e.ohms for e in circuit.elements if e.name == "load")  # type: ignore[union-attr]
        alone = decay(circuit, {"C11": held})
        assert alone.volts_at("C11", 1e-12) <= held
        assert alone.seconds_to("C11", 0.4 * held) <= 10.0 * farads * ohms + 10.0
