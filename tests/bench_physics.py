"""Times of the numeric core, as ratios to its parts and to ngspice: ``python tests/bench_physics.py``.

Nothing is asserted here: times on a shared machine are read, not tested.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

# Before numpy is first imported; why, see coldcheck.lint.physics.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path[:0] = [str(Path(__file__).parent.parent / ".src"), str(Path(__file__).parent)]

import numpy as np  # noqa: E402

from coldcheck.lint.physics.circuit import (  # noqa: E402
    Capacitor,
    Circuit,
    Pentode,
    Resistor,
    Triode,
)
from coldcheck.lint.physics.discharge import decay  # noqa: E402
from coldcheck.lint.physics.matrices import Network  # noqa: E402
from coldcheck.lint.physics.spread import Builds, spread  # noqa: E402
from coldcheck.lint.physics.start import cold_start  # noqa: E402
from coldcheck.lint.physics.supply import periodic_state  # noqa: E402
from physics import amplifiers, spice  # noqa: E402

GOAL = 0.060
"""Seconds for three mains levels of a 60-element amplifier, warm process, one core."""

SPREAD_GOAL = 0.060
"""Seconds for a thousand builds of a 70-element amplifier, its steady state known."""


def timed(work: Callable[[], object], repeats: int = 7) -> float:
    """Median of a few runs after one that warms up, in seconds."""
    work()
    taken = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return statistics.median(taken)


def three_levels(make: Callable[[float], Circuit]) -> None:
    nominal = periodic_state(make(230.0))
    low = periodic_state(make(207.0), start=nominal)
    periodic_state(make(253.0), start=nominal)
    assert low.time.size == nominal.time.size


def thousand(circuit: Circuit) -> Builds:
    """Resistors and mains within 10 %, tubes within a factor of 1.4."""
    random = np.random.default_rng(1)
    names = {
        kinds: [e.name for e in circuit.elements if isinstance(e, kinds)]
        for kinds in (Resistor, Triode | Pentode)
    }
    ohms = {name: random.uniform(0.9, 1.1, 1000) for name in names[Resistor]}
    amperes = {name: 1.4 ** random.uniform(-1, 1, 1000) for name in names[Triode | Pentode]}
    return Builds(random.uniform(0.9, 1.1, 1000), ohms, amperes, {})


def main() -> None:
    print(f"{'':22}{'three levels':>14}{'of the goal':>13}{'blind : warm':>14}", end="")
    print(f"{'start':>10}{'decay':>10}{'ngspice : ours':>16}")
    for make in (amplifiers.single_ended, amplifiers.push_pull, amplifiers.line_stage):
        circuit = make()
        nominal = periodic_state(circuit)
        levels = timed(lambda make=make: three_levels(make))
        blind = timed(lambda circuit=circuit: periodic_state(circuit))
        warm = timed(lambda make=make, nominal=nominal: periodic_state(make(253.0), start=nominal))
        cold = amplifiers.without_tubes(circuit)
        start = timed(lambda cold=cold: cold_start(cold), 3)
        names = [e.name for e in circuit.elements if isinstance(e, Capacitor)]
        charged = dict.fromkeys(names, 300.0)

        def discharge(circuit: Circuit = circuit, charged: dict[str, float] = charged) -> None:
            found = decay(circuit, charged)
            for name in charged:
                found.seconds_to(name, 50.0)

        drained = timed(discharge)
        try:
            # A twentieth of what reaching the steady state takes: 0.1 s of some 2 s.
            outside = 20.0 * timed(lambda c=circuit: spice.transient(c, 0.1, 1e-4), 1)
            ratio = f"{outside / blind:15.0f}x"
        except spice.SpiceFailed:
            ratio = f"{'-':>16}"
        title = f"{make.__name__} ({Network(circuit).size})"
        print(
            f"{title:22}{levels * 1e3:11.1f} ms{levels / GOAL:12.2f}x{blind / warm:13.1f}x", end=""
        )
        print(f"{start * 1e3:7.0f} ms{drained * 1e3:7.1f} ms{ratio}")
    print()
    for make in (amplifiers.single_ended, amplifiers.push_pull, amplifiers.line_stage):
        state = periodic_state(make())
        builds = thousand(state.network.circuit)
        taken = timed(lambda state=state, builds=builds: spread(state, builds))
        title = f"{make.__name__}, 1000 builds"
        print(f"{title:27}{taken * 1e3:6.1f} ms{taken / SPREAD_GOAL:12.2f}x of the goal")


if __name__ == "__main__":
    main()
