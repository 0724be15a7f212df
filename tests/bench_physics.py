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

from coldcheck.lint.engine.study import Study  # noqa: E402
from coldcheck.lint.physics.circuit import (  # noqa: E402
    Capacitor,
    Circuit,
    Pentode,
    Resistor,
    SiliconDiode,
    Transformer,
    Triode,
)
from coldcheck.lint.physics.discharge import decay  # noqa: E402
from coldcheck.lint.physics.matrices import Network  # noqa: E402
from coldcheck.lint.physics.spread import Builds, spread  # noqa: E402
from coldcheck.lint.physics.start import cold_start  # noqa: E402
from coldcheck.lint.physics.supply import periodic_state  # noqa: E402
from coldcheck.lint.read.project import load  # noqa: E402
from coldcheck.lint.read.toml import read_file  # noqa: E402
from coldcheck.lint.state.values import audible, electrical, study_of  # noqa: E402
from physics import agreement, amplifiers, spice  # noqa: E402

GOAL = 0.060
"""Seconds for three mains levels of a 60-element amplifier, warm process, one core."""

STATES_GOAL = 0.200
"""Seconds for all electrical states of a 70-element amplifier."""

EQUATIONS, PACE = 50, 12e-6
"""Seconds that numpy took for so many equations on the machine that the goals were set on."""
ROUNDS = 7
PROJECTS = Path(__file__).parent.parent / "projects"

RELAXED = " reltol=1e-3 abstol=1e-9 vntol=1e-6"
"""What ngspice is asked for when speed is compared, in steps of :data:`STEP` seconds."""
STEP, PIECE = 1e-4, 0.5
WITHIN = 1e-3
"""It has settled when no node's mean moves by more than this, or a millivolt, in a ``PIECE``."""
LONGEST = 20.0
"""Seconds of the circuit's time after which it is stopped."""

SPREAD_GOAL = 0.060
"""Seconds for a thousand builds of a 70-element amplifier, its steady state known."""


def timed(work: Callable[[], object], repeats: int = 7) -> float:
    """Median of a few runs after one that warms up, in seconds of the processor's time."""
    work()
    taken = []
    for _ in range(repeats):
        began = time.process_time()
        work()
        taken.append(time.process_time() - began)
    return statistics.median(taken)


def three_levels(make: Callable[[float], Circuit]) -> None:
    nominal = periodic_state(make(230.0))
    low = periodic_state(make(207.0), start=nominal)
    periodic_state(make(253.0), start=nominal)
    assert low.time.size == nominal.time.size


def to_steady_state(circuit: Circuit) -> tuple[float, float]:
    """Seconds ngspice takes from zero charge to the steady state, and seconds of circuit time."""
    held: dict[str, float] = {}
    before: dict[str, float] = {}
    taken, passed = 0.0, 0.0
    while passed < LONGEST:
        began = time.perf_counter()
        run = agreement.transient(circuit, PIECE, STEP, held, RELAXED)
        taken += time.perf_counter() - began
        passed += PIECE
        cycle = run.cycle(PIECE, 1.0 / circuit.mains_hz)
        means = {node: float(cycle.volts(node).mean()) for node in cycle.deck.nodes}
        if before and all(
            abs(volts - before[node]) <= max(WITHIN * abs(volts), 1e-3)
            for node, volts in means.items()
        ):
            break
        held, before = agreement.left(circuit, run), means
    return taken, passed


def pace() -> float:
    """How many times as long as there, by the least of many, this machine takes for them now."""
    random = np.random.default_rng(1)
    matrix = random.normal(size=(EQUATIONS, EQUATIONS)) + EQUATIONS * np.eye(EQUATIONS)
    column = random.normal(size=EQUATIONS)
    taken = []
    for _ in range(20):
        began = time.perf_counter()
        for _ in range(200):
            np.linalg.solve(matrix, column)
        taken.append((time.perf_counter() - began) / 200)
    return min(taken) / PACE


def simulated(circuit: Circuit) -> int:
    """How many elements a circuit simulator would see: of coils and diodes the resistance too."""
    return sum(
        2 * len(e.coils) if isinstance(e, Transformer) else 1 + isinstance(e, SiliconDiode)
        for e in circuit.elements
    )


def one_channel(project: Path) -> Study:
    """A project of several channels with one of them, and without the chassis."""
    raw, positions = read_file(project)
    channel = raw.pop("channel")
    for chapter in ("parts", "schematic"):
        raw[chapter] = {**raw[chapter], **channel[chapter]}
    for chapter in ("layout", "wires"):
        raw.pop(chapter, None)
    return Study(load(raw, positions, str(project)).design)


def states(make: Callable[[], Study]) -> tuple[float, float]:
    """Least seconds for all electrical states of a design, read anew, and for what is heard too."""
    taken = []
    for _ in range(ROUNDS):
        study = make()
        began = time.process_time()
        electrical(study)
        middle = time.process_time()
        audible(study)
        taken.append((middle - began, time.process_time() - began))
    stressed, whole = zip(*taken, strict=True)
    return min(stressed), min(whole)


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
    print(f"{'start':>10}{'decay':>10}")
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
        title = f"{make.__name__} ({Network(circuit).size})"
        print(
            f"{title:22}{levels * 1e3:11.1f} ms{levels / GOAL:12.2f}x{blind / warm:13.1f}x", end=""
        )
        print(f"{start * 1e3:7.0f} ms{drained * 1e3:7.1f} ms")
    print("\nngspice from zero charge to the steady state, reltol 1e-3, steps of 100 us")
    for make in (amplifiers.single_ended, amplifiers.push_pull, amplifiers.line_stage):
        circuit = make()
        level = timed(lambda make=make: three_levels(make)) / 3.0
        try:
            outside, passed = to_steady_state(circuit)
        except spice.SpiceFailed as failed:
            print(f"{make.__name__:22}ngspice gave up: {str(failed)[-80:]!r}")
            continue
        print(
            f"{make.__name__:22}{outside:8.1f} s for {passed:4.1f} s{level * 1e3:10.1f} ms a level"
            f"{outside / level:9.0f}x"
        )
    print("\nall electrical states of a project, and with what is heard")
    several = PROJECTS / "harbour.toml"
    designs: dict[str, Callable[[], Study]] = {
        project.stem: lambda project=project: study_of(project)
        for project in sorted(PROJECTS.glob("*.toml"))
    }
    designs["one channel of harbour"] = lambda: one_channel(several)
    slower = pace()
    print(
        f"the goals' machine was {slower:.2f} times as fast in {EQUATIONS} equations; in brackets"
    )
    print("against a goal of as many times the time")
    for name, design in designs.items():
        stressed, whole = states(design)
        warm = design().get("Warm").nominal.netlist.circuit
        share = stressed / STATES_GOAL
        title = f"{name} ({len(warm.elements)} elements, {simulated(warm)} simulated)"
        print(f"{title:53}{stressed * 1e3:6.0f} ms{share:7.2f}x of the goal", end="")
        print(f" [{share / slower:.2f}x]{whole * 1e3:8.0f} ms")
    print()
    for make in (amplifiers.single_ended, amplifiers.push_pull, amplifiers.line_stage):
        state = periodic_state(make())
        builds = thousand(state.network.circuit)
        taken = timed(lambda state=state, builds=builds: spread(state, builds))
        title = f"{make.__name__}, 1000 builds"
        print(f"{title:27}{taken * 1e3:6.1f} ms{taken / SPREAD_GOAL:12.2f}x of the goal")


if __name__ == "__main__":
    main()
