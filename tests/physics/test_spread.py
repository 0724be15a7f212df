"""Builds whose parts are off: in closed form, one by one with other solvers, and with ngspice."""

from __future__ import annotations

from types import ModuleType

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from coldcheck.lint.physics import spread as spreading
from coldcheck.lint.physics.circuit import (
    Circuit,
    Element,
    NotSolved,
    Pentode,
    Resistor,
    Source,
    Triode,
    ZenerDiode,
)
from coldcheck.lint.physics.dc import Equations, operating_point
from coldcheck.lint.physics.matrices import Network
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.spread import Band, Builds, Spread, band, spread
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers

MAKERS = {
    "single ended": amplifiers.single_ended,
    "push pull": amplifiers.push_pull,
    "line stage": amplifiers.line_stage,
}
STATES = {name: periodic_state(make()) for name, make in MAKERS.items()}
LARGEST_FACTOR = 1.4
"""On the current of a tube; parts are at most 10 % off."""


def random_builds(
    circuit: Circuit, samples: int, seed: int = 5, parts: float = 0.1, tubes: float = LARGEST_FACTOR
) -> Builds:
    """Every resistor, tube and zener diode, and the mains, off at random."""
    random = np.random.default_rng(seed)

    def within(share: float) -> np.ndarray:
        return random.uniform(1.0 - share, 1.0 + share, samples)

    def of(*kinds: type[Element]) -> list[str]:
        return [e.name for e in circuit.elements if isinstance(e, kinds)]

    amperes = {name: tubes ** random.uniform(-1.0, 1.0, samples) for name in of(Triode, Pentode)}
    return Builds(
        within(parts),
        # what is near a milliohm would turn into a current of the matrices when written out
        {name: within(parts) for name in of(Resistor) if name != "wire"},
        amperes,
        {name: within(parts) for name in of(ZenerDiode)},
    )


def as_drawn(samples: int = 1) -> Builds:
    return Builds(np.ones(samples), {}, {}, {})


def built(circuit: Circuit, builds: Builds, k: int, supply: float = 1.0) -> Circuit:
    """One build written out as a circuit of its own, its mains multiplied by ``supply``."""

    def one(element: Element) -> Element:
        match element:
            case Resistor() if element.name in builds.ohms:
                return element._replace(ohms=element.ohms * float(builds.ohms[element.name][k]))
            case Triode() | Pentode():
                factor, law = float(builds.amperes[element.name][k]), element.law
                kg1 = law.kg1 / factor
                more = {"kg2": law.kg2 / factor} if isinstance(element, Pentode) else {}
                return element._replace(law=law._replace(kg1=kg1, **more))  # type: ignore[arg-type]
            case ZenerDiode():
                factor = float(builds.volts[element.name][k])
                return element._replace(volts=element.volts * factor, ohms=element.ohms * factor)
            case Source():
                return element._replace(peak=element.peak * supply)
            case _:
                return element

    return circuit._replace(elements=tuple(one(e) for e in circuit.elements))


def on_batteries(name: str) -> Circuit:
    """An amplifier without its mains side; batteries where the rectifiers' load begins."""
    rails = {"single ended": ("B2",), "push pull": ("B1", "raw bias"), "line stage": ("B1",)}[name]
    mains = {"mains", "tie", "fuse", "switch", "T1", "insulation", "heaters", "filament", "wire"}
    mains |= {"hum 1", "hum 2"}
    circuit, state = MAKERS[name](), STATES[name]
    kept = (e for e in circuit.elements if e.name not in mains and not hasattr(e, "anode"))
    fed = (Source(f"to {rail}", rail, "0", dc=state.mean(rail)) for rail in rails)
    return Circuit((*kept, *fed), "0")


def divider(first: float = 1e3) -> Circuit:
    parts = (
        Source("B", "a", "0", dc=300.0),
        Resistor("R1", "a", "b", first),
        Resistor("R2", "b", "0", 2e3),
    )
    return Circuit(parts, "0")


# -- in closed form ------------------------------------------------------------------------------


def test_a_divider_of_resistors() -> None:
    """300 V R2 / (R1 + R2), build by build."""
    random = np.random.default_rng(1)
    one, two = random.uniform(0.8, 1.2, (2, 500))
    found = spread(periodic_state(divider()), Builds(np.ones(500), {"R1": one, "R2": two}, {}, {}))
    expected = 300.0 * 2e3 * two / (1e3 * one + 2e3 * two)
    assert found.volts("b") == pytest.approx(expected, abs=1e-6)
    heat = (300.0 - expected) ** 2 / (1e3 * one)
    assert found.resistor_watts("R1") == pytest.approx(heat, rel=1e-7)
    assert not found.lost and not found.as_drawn


def test_the_band_of_a_divider() -> None:
    """R1 even over 10 % either way: the voltage falls as it rises, so its quantiles are those of
    R1 the other way round."""
    samples = 1001
    ramp = np.linspace(0.9, 1.1, samples)
    found = spread(periodic_state(divider()), Builds(np.ones(samples), {"R1": ramp}, {}, {}))

    def at(share: float) -> float:
        return 300.0 * 2.0 / (0.9 + 0.2 * share + 2.0)

    assert band(found.volts("b")) == pytest.approx(Band(at(0.95), at(0.5), at(0.05)), rel=1e-9)


def test_a_zener_shunt_regulator() -> None:
    """100 V through 1 kohm into 75 V and 50 ohm, both f times that."""
    factor = np.linspace(0.95, 1.05, 11)
    parts = (
        Source("B", "a", "0", dc=100.0),
        Resistor("R", "a", "z", 1e3),
        ZenerDiode("Z", "0", "z", 75.0, 50.0),
    )
    builds = Builds(np.ones(11), {}, {}, {"Z": factor})
    found = spread(periodic_state(Circuit(parts, "0")), builds)
    amperes = (100.0 - 75.0 * factor) / (1e3 + 50.0 * factor)
    assert found.volts("z") == pytest.approx(100.0 - 1e3 * amperes, abs=1e-5)


# -- against other solutions of the same builds --------------------------------------------------


def one_by_one(state: PeriodicState, builds: Builds, k: int) -> np.ndarray:
    """Node voltages of a build written out, the rectifiers averaged, by the dc solver."""
    averaged = state.averaged()
    network = Network(built(state.network.circuit, builds, k))
    rows = averaged.rows
    still = spreading.Devices(
        network,
        network.diodes.subset(~state.swinging),
        network.diode_ports[~state.swinging],
    )
    given = network.steady + builds.supply[k] * (rows.T @ averaged.amperes)
    equations = still.equations(network.dc + rows.T @ averaged.siemens @ rows, given)
    return spreading.solve(network, equations, still.start)


@pytest.mark.parametrize("name", STATES)
def test_builds_are_as_solved_one_by_one(name: str) -> None:
    state = STATES[name]
    builds = random_builds(state.network.circuit, 24)
    found = spread(state, builds)
    assert found.lost == 0
    nodes = state.network.nodes
    for k in range(24):
        alone = one_by_one(state, builds, k)
        assert np.max(np.abs(found.solution[:nodes, k] - alone[:nodes])) < 1e-5


@pytest.mark.parametrize(("name", "within"), [("single ended", 0.01), ("line stage", 1e-3)])
def test_rectifiers_answer_as_in_the_full_solution(name: str, within: float) -> None:
    """Builds far apart, mains and all, against the steady state of each written out."""
    state = STATES[name]
    builds = random_builds(state.network.circuit, 4, seed=8)
    mains = {"tie", "fuse", "switch", "heaters", "hum 1", "hum 2", "filament", "wire"}
    for part in mains & builds.ohms.keys():
        builds.ohms[part][:] = 1.0  # type: ignore[index]
    found = spread(state, builds)
    for k in range(4):
        whole = periodic_state(
            built(state.network.circuit, builds, k, builds.supply[k]), start=state
        )
        for node in state.network.index:
            if node.startswith(("B", "plate", "driver", "k", "screen")):
                assert found.volts(node)[k] == pytest.approx(whole.mean(node), rel=within, abs=0.01)
        for tube in builds.amperes:
            assert found.plate_watts(tube)[k] == pytest.approx(whole.watts(tube), rel=2.5 * within)


@pytest.mark.parametrize("name", STATES)
def test_nothing_off_is_the_state_as_drawn(name: str) -> None:
    state = STATES[name]
    found = spread(state, as_drawn())
    for tube in state.network.tubes.plate_port:
        assert found.plate_watts(tube)[0] == pytest.approx(state.watts(tube), rel=1e-4)
        assert found.plate_amperes(tube)[0] == pytest.approx(state.amperes(tube).mean(), rel=1e-4)
        grid = state.grid_amperes(tube).mean()
        assert found.grid_amperes(tube)[0] == pytest.approx(grid, rel=1e-3, abs=1e-12)
    for tube in state.network.tubes.screen_port:
        assert found.screen_watts(tube)[0] == pytest.approx(state.screen_watts(tube), rel=1e-4)
        screen = state.screen_amperes(tube).mean()
        assert found.screen_amperes(tube)[0] == pytest.approx(screen, rel=1e-4)
    for element in state.network.circuit.elements:
        if isinstance(element, Resistor):
            heat = found.resistor_watts(element.name)[0]
            assert heat == pytest.approx(state.watts(element.name), rel=1e-4, abs=1e-9)


def test_a_resistor_across_ac_is_heated_by_its_volts() -> None:
    """The hum resistors carry 50 Hz and no dc to speak of: V^2 / R."""
    state = STATES["single ended"]
    factor, supply = np.array([0.9, 1.0, 1.1]), np.array([1.1, 1.0, 0.9])
    found = spread(state, Builds(supply, {"hum 1": factor}, {}, {}))
    assert found.resistor_watts("hum 1") == pytest.approx(
        state.watts("hum 1") * supply**2 / factor, rel=1e-6
    )


@pytest.mark.ngspice
@pytest.mark.parametrize("name", STATES)
def test_builds_on_batteries_agree_with_ngspice(name: str, spice: ModuleType) -> None:
    circuit = on_batteries(name)
    builds = random_builds(circuit, 6, seed=11)
    found = spread(periodic_state(circuit), builds)
    for k in range(6):
        run = spice.operating_point(built(circuit, builds, k))
        for node in found.state.network.index:
            expected = float(run.volts(node)[0])
            assert found.volts(node)[k] == pytest.approx(expected, rel=1e-3, abs=1e-3), node


@pytest.mark.parametrize("name", STATES)
def test_builds_on_batteries_agree_with_the_operating_point(name: str) -> None:
    circuit = on_batteries(name)
    builds = random_builds(circuit, 20, seed=12)
    found = spread(periodic_state(circuit), builds)
    for k in range(20):
        point = operating_point(built(circuit, builds, k))
        for node, volts in point.volts.items():
            assert found.volts(node)[k] == pytest.approx(volts, abs=1e-5), node
        for tube, amperes in point.grid_amperes.items():
            assert found.plate_amperes(tube)[k] == pytest.approx(point.amperes[tube], abs=1e-8)
            assert found.grid_amperes(tube)[k] == pytest.approx(amperes, abs=1e-8)


# -- what every spread keeps to ------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(
    name=st.sampled_from(sorted(STATES)),
    seed=st.integers(0, 2**31),
    parts=st.floats(1e-3, 0.2),
    tubes=st.floats(1.001, 2.0),
)
def test_bands_are_finite_and_hold_the_circuit_as_drawn(
    name: str, seed: int, parts: float, tubes: float
) -> None:
    state = STATES[name]
    found = spread(state, random_builds(state.network.circuit, 120, seed, parts, tubes))
    assert found.lost == 0
    drawn = spread(state, as_drawn())
    for node in state.network.index:
        values = found.volts(node)
        assert np.all(np.isfinite(values))
        low, middle, high = band(values)
        assert low <= middle <= high
        if node.startswith(("B", "plate")):
            assert values.min() <= drawn.volts(node)[0] <= values.max()
    for tube in state.network.tubes.plate_port:
        assert np.all(found.plate_watts(tube) > 0.0)


def test_builds_do_not_know_each_other() -> None:
    state = STATES["push pull"]
    builds = random_builds(state.network.circuit, 200)
    some = np.arange(150, 180)
    together, apart = spread(state, builds), spread(state, builds.chosen(some))
    assert apart.solution == pytest.approx(together.solution[:, some], abs=1e-5)


def _same(one: Spread, other: Spread) -> None:
    assert one.solution == pytest.approx(other.solution, abs=1e-5)
    assert one.port_amperes == pytest.approx(other.port_amperes, abs=1e-8)


def test_builds_that_stall_are_solved_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    state = STATES["push pull"]
    builds = random_builds(state.network.circuit, 12)
    together = spread(state, builds)
    alone: list[int] = []
    by_itself = spreading._Reduced.by_itself

    def noted(self: spreading._Reduced, build: int) -> np.ndarray:
        alone.append(build)
        return by_itself(self, build)

    monkeypatch.setattr(spreading, "ROUNDS", 1)
    monkeypatch.setattr(spreading._Reduced, "by_itself", noted)
    _same(spread(state, builds), together)
    assert alone == list(range(12))


def test_builds_without_solution_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    state = STATES["line stage"]
    builds = random_builds(state.network.circuit, 6)
    together = spread(state, builds)
    solve = spreading.solve
    asked = iter(range(6))

    def gives_up(network: Network, equations: Equations, start: np.ndarray) -> np.ndarray:
        if next(asked) in (1, 4):
            raise NotSolved("no operating point was found")
        return solve(network, equations, start)

    monkeypatch.setattr(spreading, "ROUNDS", 1)
    monkeypatch.setattr(spreading, "solve", gives_up)
    found = spread(state, builds)
    assert found.lost == 2
    kept = np.array([0, 2, 3, 5])
    assert found.builds.supply == pytest.approx(builds.supply[kept])
    assert found.solution == pytest.approx(together.solution[:, kept], abs=1e-5)
    assert found.resistor_watts("R3") == pytest.approx(together.resistor_watts("R3")[kept])


def test_what_has_no_place_is_named_and_left_as_drawn() -> None:
    """Too small a resistor is a current in the matrices, and has no conductance to change."""
    state = periodic_state(divider(first=1e-4))
    found = spread(state, Builds(np.ones(3), {"R1": np.full(3, 1.5)}, {}, {}))
    assert found.as_drawn == ("R1",)
    assert found.volts("b") == pytest.approx(state.mean("b"))
    assert found.resistor_watts("R1") == pytest.approx(state.watts("R1"), rel=1e-3)


@pytest.mark.parametrize(
    "wrong",
    [
        Builds(np.ones(2), {"R99": np.ones(2)}, {}, {}),
        Builds(np.ones(2), {"B": np.ones(2)}, {}, {}),
        Builds(np.ones(2), {}, {"R1": np.ones(2)}, {}),
        Builds(np.ones(2), {}, {}, {"R1": np.ones(2)}),
    ],
)
def test_a_factor_on_nothing_is_an_error(wrong: Builds) -> None:
    with pytest.raises(KeyError):
        spread(periodic_state(divider()), wrong)


def test_heat_is_asked_of_resistors_only() -> None:
    with pytest.raises(KeyError):
        spread(periodic_state(divider()), as_drawn()).resistor_watts("B")
