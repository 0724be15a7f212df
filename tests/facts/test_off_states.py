"""Standings of switches, fuses and broken parts: the slowest found against trying them all.

Sources: every combination solved by itself; V = V0 exp(-t / R C); capacitance in series adds by its
reciprocals; ngspice on the same circuits.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from types import ModuleType

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.discharging import Bench
from coldcheck.lint.graphs.cuts import Edge, Opening, Standing, blocks, cut, missing, stranded
from coldcheck.lint.physics.circuit import Capacitor, Circuit, Element, Resistor
from coldcheck.lint.physics.discharge import decay
from documents import design


def fuse(name: str) -> Opening:
    return Opening(name, "fuse", {"": frozenset(), "blown": frozenset({name})})


def broken(name: str) -> Opening:
    return Opening(name, "part", {"": frozenset(), "open": frozenset({name})})


def switch(name: str, **positions: tuple[str, ...]) -> Opening:
    every = frozenset(contact for pairs in positions.values() for contact in pairs)
    return Opening(name, "switch", {at: every - set(pairs) for at, pairs in positions.items()})


def all_standings(openings: list[Opening]) -> Iterator[Standing]:
    """Every combination in which no more than one part is broken."""
    for choices in itertools.product(*(o.choices for o in openings)):
        changed = {
            o.name: choice
            for o, choice in zip(openings, choices, strict=True)
            if choice != o.running
        }
        if sum(o.kind == "part" and o.name in changed for o in openings) <= 1:
            yield changed


def by_brute_force(
    circuit: Circuit, openings: list[Opening], volts: Mapping[str, float], to: float
) -> dict[str, float]:
    """The longest time to a voltage of each capacitor, every standing solved as a whole."""
    longest = dict.fromkeys(volts, 0.0)
    for standing in all_standings(openings):
        gone = missing(openings, standing)
        left = circuit._replace(elements=tuple(e for e in circuit.elements if e.name not in gone))
        solved = decay(left, volts)
        for ref in volts:
            longest[ref] = max(longest[ref], solved.seconds_to(ref, to))
    return longest


@st.composite
def supplies(draw: st.DrawFn) -> tuple[Circuit, list[Opening], dict[str, float]]:
    """A few nets with capacitors, bleeders, fuses, changeover switches and droppers anywhere."""
    net = st.integers(0, draw(st.integers(2, 6))).map(str)
    elements: list[Element] = []
    volts: dict[str, float] = {}
    for k in range(draw(st.integers(1, 5))):
        farads = 10.0 ** draw(st.floats(-6.0, -3.5))
        elements.append(Capacitor(f"C{k}", draw(net), draw(st.just("0") | net), farads))
        volts[f"C{k}"] = draw(st.sampled_from([0.0, 300.0, 400.0, -350.0]))
    for k in range(draw(st.integers(0, 4))):
        ohms = 10.0 ** draw(st.floats(4.0, 6.0))
        elements.append(Resistor(f"R{k}", draw(net), draw(st.just("0") | net), ohms))
    openings: list[Opening] = []
    for k in range(draw(st.integers(0, 4))):
        elements.append(Resistor(f"F{k}", draw(net), draw(net), 0.1))
        openings.append(fuse(f"F{k}"))
    for k in range(draw(st.integers(0, 2))):
        pole = draw(net)
        elements += [Resistor(f"S{k}.{to}", pole, draw(net), 0.01) for to in "12"]
        turned = switch(f"S{k}", run=(f"S{k}.1",), other=(f"S{k}.2",), off=())
        openings.append(turned)
    for k in range(draw(st.integers(0, 2))):
        elements.append(Resistor(f"L{k}", draw(net), draw(net), 1e3))
        openings.append(broken(f"L{k}"))
    return Circuit(tuple(elements), "0"), openings, volts


@settings(max_examples=80, deadline=None)
@given(supplies())
def test_the_slowest_is_that_of_all_combinations(
    supply: tuple[Circuit, list[Opening], dict[str, float]],
) -> None:
    circuit, openings, volts = supply
    expected = by_brute_force(circuit, openings, volts, 50.0)
    bench = Bench(circuit, openings, volts)
    states = bench.states("mains off", 60.0, 50.0)
    assert bench.complete
    for ref, seconds in expected.items():
        found = max(state.seconds_to(ref, 50.0) for state in states)
        assert found == pytest.approx(seconds, rel=1e-3, abs=1e-3), ref
    every = {e.name for e in circuit.elements}
    for state in states:
        left = {e.name for e in state.circuit.elements}
        assert len({name for name in every - left if name.startswith("L")}) <= 1
        assert not any({f"S{k}.1", f"S{k}.2"} <= left for k in range(2))


def chain(fuses: int) -> tuple[Circuit, list[Opening], dict[str, float]]:
    """Capacitors along a rail, a fuse between neighbours, each with a bleeder of its own."""
    elements: list[Element] = []
    for k in range(fuses + 1):
        elements.append(Capacitor(f"C{k}", f"B{k}", "0", (1.0 + 7.0 * k % 5) * 1e-5))
        elements.append(Resistor(f"R{k}", f"B{k}", "0", (1.0 + 3.0 * k % 7) * 1e5))
    elements += [Resistor(f"F{k}", f"B{k}", f"B{k + 1}", 0.1) for k in range(fuses)]
    openings = [fuse(f"F{k}") for k in range(fuses)]
    return Circuit(tuple(elements), "0"), openings, {f"C{k}": 400.0 for k in range(fuses + 1)}


def test_a_chain_of_fuses_makes_stretches_not_combinations() -> None:
    """Nine capacitors in a row lie in 9 * 10 / 2 = 45 stretches, out of 2^8 standings."""
    circuit, openings, volts = chain(8)
    edges = [Edge(e.name, e.a, e.b) for e in circuit.elements]  # type: ignore[union-attr]
    assert cut(edges, openings, volts, 60.0, 1000).blocks == 45
    bench = Bench(circuit, openings, volts)
    states = bench.states("mains off", 60.0, 50.0)
    assert bench.complete and len(states) <= 45
    for ref, seconds in by_brute_force(circuit, openings, volts, 50.0).items():
        assert max(s.seconds_to(ref, 50.0) for s in states) == pytest.approx(seconds, rel=1e-6)


def hub(branches: int, switches: int) -> tuple[Circuit, list[Opening], dict[str, float]]:
    """One rail that feeds everything: branches behind fuses, and behind switches."""
    elements: list[Element] = [Capacitor("C0", "B", "0", 47e-6), Resistor("R0", "B", "0", 4.7e5)]
    openings: list[Opening] = []
    for k in range(1, branches + switches + 1):
        at = f"B{k}"
        elements.append(Capacitor(f"C{k}", at, "0", 10e-6 * (1 + k % 4)))
        elements.append(Resistor(f"R{k}", at, "0", 1e5 * (1 + 5 * k % 11)))
        if k <= branches:
            elements.append(Resistor(f"F{k}", "B", at, 0.1))
            openings.append(fuse(f"F{k}"))
        else:
            elements.append(Resistor(f"S{k}.1", "B", at, 0.01))
            openings.append(switch(f"S{k}", run=(f"S{k}.1",), off=()))
    volts = {e.name: 400.0 for e in elements if isinstance(e, Capacitor)}
    return Circuit(tuple(elements), "0"), openings, volts


def test_eighteen_openings_on_one_rail_stay_few_states_and_find_the_slowest() -> None:
    """2^18 standings.  Of capacitors in parallel t = (C / G) ln(V0 / V), so the slowest set is found
    by hand: branches in order of their own R C, taken while they are slower than the rest."""
    circuit, openings, volts = hub(10, 8)
    bench = Bench(circuit, openings, volts)
    states = bench.states("mains off", 60.0, 50.0)
    assert not bench.complete
    assert len(states) <= 1 + len(openings) + len(volts)
    farads = {e.name[1:]: e.farads for e in circuit.elements if isinstance(e, Capacitor)}
    siemens = {e.name[1:]: 1.0 / e.ohms for e in circuit.elements
               if isinstance(e, Resistor) and e.name.startswith("R")}  # fmt: skip
    for own in farads:
        together = {"0", own}
        if own != "0" and farads[own] / siemens[own] > _slowest(farads, siemens, {"0", own}):
            together = {own}
        expected = (
            _slowest(farads, siemens, together)
            if len(together) > 1 or own == "0"
            else (farads[own] / siemens[own])
        )
        found = max(s.seconds_to(f"C{own}", 50.0) for s in states)
        assert found == pytest.approx(expected * math.log(8.0), rel=1e-4), own


def _slowest(farads: dict[str, float], siemens: dict[str, float], within: set[str]) -> float:
    """The largest C / G of what is within, and of whichever others make it larger."""
    c, g = (sum(table[k] for k in within) for table in (farads, siemens))
    for k in sorted(farads, key=lambda k: -farads[k] / siemens[k]):
        if k not in within and farads[k] / siemens[k] > c / g:
            c, g = c + farads[k], g + siemens[k]
    return c / g


def test_past_the_limit_a_cut_of_many_fuses_is_found() -> None:
    """Bleeders on every branch and none on the rail: only all fuses together strand it, and two
    in parallel hide each other from one change at a time."""
    circuit, openings, volts = hub(10, 2)
    kept = tuple(e for e in circuit.elements if e.name != "R0")
    doubled = (*kept, *(Resistor(f"G{k}", "B", f"B{k}", 0.1) for k in (1, 2)))
    openings = [*openings, fuse("G1"), fuse("G2")]
    bench = Bench(circuit._replace(elements=doubled), openings, volts)
    states = bench.states("mains off", 60.0, 50.0)
    assert not bench.complete
    stranding = [s for s in states if s.seconds_to("C0", 50.0) == math.inf]
    assert stranding and all(len(s.standing) == 14 for s in stranding)


def test_least_cut_names_the_fewest_openings_and_keeps_positions_whole() -> None:
    edges = [
        Edge("C", "a", "0"),
        Edge("S.1", "a", "b"),
        Edge("S.2", "a", "c"),
        Edge("F", "b", "0"),
        Edge("R", "c", "0"),
    ]
    changeover = switch("S", run=("S.1",), other=("S.2",))
    assert list(stranded(edges, [changeover, fuse("F")], {"C"}, "C")) == [{"F": "blown"}]
    # without the fuse it stands in one position or the other, and opens no two contacts at once
    assert list(stranded(edges, [changeover], {"C"}, "C")) == []
    off = switch("S", run=("S.1",), other=("S.2",), off=())
    assert list(stranded(edges, [off], {"C"}, "C")) == [{"S": "off"}]


def test_what_hangs_by_one_node_is_a_block_of_its_own() -> None:
    edges = [
        Edge("C1", "a", "0"),
        Edge("R1", "a", "0"),
        Edge("C2", "b", "0"),
        Edge("R2", "b", "0"),
        Edge("C3", "b", "loose"),
        Edge("C4", "b", "b"),  # both ends on one node
    ]
    found = [{edge.name for edge in block} for block in blocks(edges)]
    assert found == [{"C1", "R1"}, {"C2", "R2"}, {"C3"}]


# -- as documents --------------------------------------------------------------------------------

FILTER = """
[parts]
J1 = { kind = "inlet" }
D1 = { kind = "bridge", voltage = "1000 V", current = "1 A" }
S2 = { kind = "switch", positions = { standby = [], run = ["1-2"] } }
F2 = { kind = "fuse", current = "250 mA", voltage = "500 V" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "47u", voltage = "400 V" }
C2 = { kind = "capacitor", dielectric = "electrolytic", value = "22u", voltage = "400 V" }
C3 = { kind = "capacitor", dielectric = "electrolytic", value = "100u", voltage = "400 V" }
R1 = { kind = "resistor", value = "220k" }
R2 = { kind = "resistor", value = "10k" }
R3 = { kind = "resistor", value = "470k" }
E1 = { kind = "chassis bond" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "20" }, windings.ht = { voltage = "200 V", current = "0.1 A", resistance = "30", no_load = "215 V" } }
[schematic]
J1 = ["line", "neutral", "chassis"]
T1 = { primary = ["line", "neutral"], ht = ["a", "b"] }
D1 = ["a", "b", "B1", "0V"]
C1 = ["B1", "0V"]
R1 = ["B1", "0V"]
S2 = { 1 = "B1", 2 = "B1 on" }
F2 = ["B1 on", "B2"]
C2 = ["B2", "0V"]
R2 = ["B2", "B3"]
C3 = ["B3", "0V"]
R3 = ["B3", "0V"]
E1 = "0V"
"""


def test_states_are_named_by_what_stands_differently() -> None:
    off = Study(design(FILTER)).get("OffStates")
    assert [state.name for state in off.states] == [
        "mains off, S2 run",
        "mains off, S2 standby",
        "mains off, S2 run, R2 open",
        "mains off, S2 standby, R2 open",
    ]


def test_each_capacitor_has_the_state_that_is_slowest_for_it() -> None:
    off = Study(design(FILTER)).get("OffStates")
    held = {cap.part.ref: cap for cap in off.capacitors}
    start = held["C1"].start
    # standby or a blown fuse come to the same: C1 by itself, C2 and C3 on R3
    seconds, state = held["C2"].slowest(50.0)
    assert seconds == math.inf and state.name == "mains off, S2 standby, R2 open"
    far = 470e3 * 122e-6 * math.log(start / 50.0)
    seconds, state = held["C3"].slowest(50.0)
    assert state.name == "mains off, S2 standby"
    assert seconds == pytest.approx(far, rel=0.02)  # R2 is 2 % of R3
    alone = 220e3 * 47e-6 * math.log(start / 50.0)
    whole = held["C1"].states[0].seconds_to("C1", 50.0)
    assert held["C1"].slowest(50.0)[0] == pytest.approx(max(alone, whole), rel=1e-6)


def stack(resistors: bool) -> str:
    body = FILTER.replace('C1 = ["B1", "0V"]', 'C1 = ["B1", "half"]\nC4 = ["half", "0V"]')
    body = body.replace(
        "\nC2 = { kind", '\nC4 = { kind = "capacitor", dielectric = "electrolytic", value = "33u",'
        ' voltage = "400 V" }\nR4 = { kind = "resistor", value = "200k" }\n'
        'R5 = { kind = "resistor", value = "100k" }\nC2 = { kind', 1,
    )  # fmt: skip
    return body + ('R4 = ["B1", "half"]\nR5 = ["half", "0V"]\n' if resistors else "")


def test_a_stack_without_resistors_shares_by_capacitance() -> None:
    off = Study(design(stack(False))).get("OffStates")
    held = {cap.part.ref: cap for cap in off.capacitors}
    whole = held["C2"].start
    assert held["C1"].start == pytest.approx(whole * 33 / 80, rel=2e-3)
    assert held["C4"].start == pytest.approx(whole * 47 / 80, rel=2e-3)
    series = 47e-6 * 33e-6 / 80e-6
    together = held["C1"].joules + held["C4"].joules
    assert together == pytest.approx(0.5 * series * whole**2, rel=5e-3)
    # charged by one current, discharged by one current: nothing stays behind
    assert all(state.volts_at("C1", 1e6) == pytest.approx(0.0, abs=0.1) for state in off.states)


def test_resistors_across_a_stack_decide_its_shares() -> None:
    off = Study(design(stack(True))).get("OffStates")
    held = {cap.part.ref: cap for cap in off.capacitors}
    whole = held["C2"].start
    # at first by capacitance, in the end 200k over 100k; each is at the larger of the two
    assert held["C1"].start == pytest.approx(whole * 2 / 3, rel=5e-3)
    assert held["C4"].start == pytest.approx(whole * 47 / 80, rel=0.05)


def test_capacitors_in_series_hang_together_as_in_series() -> None:
    off = Study(design(stack(False))).get("OffStates")
    held = {cap.part.ref: cap for cap in off.capacitors}
    standby = next(s for s in off.states if s.name == "mains off, S2 standby")
    series = 47e-6 * 33e-6 / 80e-6
    assert held["C1"].farads(standby) == pytest.approx(47e-6)
    assert held["C4"].farads(standby) == pytest.approx(33e-6)
    assert held["C2"].farads(off.states[0]) == pytest.approx(122e-6 + series)


# -- against ngspice -----------------------------------------------------------------------------


def crossing(run: object, a: str, b: str, ground: str) -> float:
    """When the voltage of a over b last falls to 50 V, by linear interpolation."""
    volts = np.abs(run.volts(a) - (run.volts(b) if b != ground else 0.0))  # type: ignore[attr-defined]
    last = int(np.nonzero(volts > 50.0)[0][-1])
    pair = -volts[last : last + 2]
    return float(np.interp(-50.0, pair, run.time[last : last + 2]))  # type: ignore[attr-defined]


REFERENCES = {
    "filter with standby and fuse": FILTER,
    "stack with its resistors": stack(True),
    "stack without": stack(False),
    "negative supply": FILTER.replace('D1 = ["a", "b", "B1", "0V"]', 'D1 = ["a", "b", "0V", "B1"]')
    .replace('C1 = ["B1", "0V"]', 'C1 = ["0V", "B1"]')
    .replace('C2 = ["B2", "0V"]', 'C2 = ["0V", "B2"]')
    .replace('C3 = ["B3", "0V"]', 'C3 = ["0V", "B3"]'),
}


@pytest.mark.ngspice
@pytest.mark.parametrize("name", REFERENCES)
def test_every_off_state_agrees_with_ngspice(name: str, spice: ModuleType) -> None:
    """Times to 50 V within 0.5 %, in each state, of each capacitor that gets there."""
    off = Study(design(REFERENCES[name])).get("OffStates")
    start = {cap.part.ref: cap.start for cap in off.capacitors}
    compared = 0
    for state in off.states:
        circuit = state.circuit
        ends = {e.name: (e.a, e.b) for e in circuit.elements if isinstance(e, Capacitor)}
        ours = {ref: state.seconds_to(ref, 50.0) for ref in start}
        until = 1.2 * max(seconds for seconds in ours.values() if seconds < math.inf)
        # a giga-ohm to ground where ngspice would have a net without one
        tied = _tied(circuit)
        run = spice.transient(tied, until, until / 4000, start)
        for ref, seconds in ours.items():
            a, b = ends[ref]
            if seconds == math.inf:
                last = run.volts(a)[-1] - (run.volts(b)[-1] if b != circuit.ground else 0.0)
                assert abs(last) > 50.0, (state.name, ref)
            elif seconds > 0.0:
                theirs = crossing(run, a, b, circuit.ground)
                assert seconds == pytest.approx(theirs, rel=5e-3), (state.name, ref)
                compared += 1
    assert compared >= 6


def _tied(circuit: Circuit) -> Circuit:
    nets = {net for e in circuit.elements for net in (e.a, e.b)} - {circuit.ground}  # type: ignore[union-attr]
    ties = tuple(Resistor(f"tie {net}", net, circuit.ground, 1e12) for net in sorted(nets))
    return circuit._replace(elements=circuit.elements + ties)


def test_a_position_with_a_higher_supply_charges_higher() -> None:
    """Half of the winding as running, all of it in the other position: 200 V and 400 V rms."""
    body = FILTER.replace('voltage = "200 V", current', 'voltage = "200-0-200 V", current')
    body = body.replace('resistance = "30", no_load = "215 V"', 'resistance = "30+30", no_load = "215-0-215 V"')  # fmt: skip
    body = body.replace('ht = ["a", "b"]', 'ht = ["a", "m", "b"]')
    body = body.replace("\nF2 = { kind", '\nS3 = { kind = "switch", positions = { high = ["1-2"], low = ["1-3"] } }\nF2 = { kind', 1)  # fmt: skip
    body = body.replace(
        'D1 = ["a", "b",', 'S3 = { 1 = "leg", 2 = "b", 3 = "m" }\nD1 = ["a", "leg",'
    )
    off = Study(design(body)).get("OffStates")
    (held,) = (cap for cap in off.capacitors if cap.part.ref == "C1")
    # mains high, two diode drops, and the bleeders' load
    assert held.start == pytest.approx(430.0 * math.sqrt(2.0) * 1.1, rel=0.03)
