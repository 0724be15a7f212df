"""Small signal: closed forms, and ngspice on the same equations."""

from __future__ import annotations

import math
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    CurrentLoad,
    Element,
    Resistor,
    Source,
    Triode,
)
from coldcheck.lint.physics.large_signal import Generator, MidBand
from coldcheck.lint.physics.small_signal import (
    HIGHEST,
    LOWEST,
    Branch,
    SmallSignal,
    band,
    crossings,
    loop_gain,
    margins,
)
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers, benches

SEVERAL = np.array([1.0, 30.0, 1e3, 2e4, 5e5])


def stray(amplifier: benches.Amplifier) -> tuple[Capacitor, ...]:
    """What tubes of these types have between their electrodes, roughly; and a cable."""
    tubes = [e for e in amplifier.circuit.elements if isinstance(e, Triode)]
    found = [Capacitor("cable", amplifier.generator.a, "0", 300e-12)]
    for tube in tubes:
        found.append(Capacitor(f"{tube.name} grid to plate", tube.grid, tube.plate, 1.7e-12))
        found.append(Capacitor(f"{tube.name} grid", tube.grid, tube.cathode, 1.8e-12))
        found.append(Capacitor(f"{tube.name} plate", tube.plate, tube.cathode, 0.5e-12))
    return tuple(found)


def passive(*elements: Element) -> SmallSignal:
    """A circuit of resistors and capacitors, its node "in" driven through 1 kohm."""
    return SmallSignal(periodic_state(Circuit(elements, "0")), [Generator("in", "0", 1e3)])


@given(st.floats(1e2, 1e6), st.floats(1e-11, 1e-6))
@settings(deadline=None, max_examples=30)
def test_a_low_pass_has_the_corner_of_its_time_constant(ohms: float, farads: float) -> None:
    """1 / (2 pi R C), of a source of 1 kohm and a resistor in series."""
    circuit = passive(
        Resistor("R1", "in", "out", ohms),
        Capacitor("C1", "out", "0", farads),
        Resistor("leak", "out", "0", 1e12),
    )
    corner = 1.0 / (2.0 * math.pi * (ohms + 1e3) * farads)
    hertz = np.array([0.3, 1.0, 3.0]) * corner
    found = circuit.gains([("out", "0")], hertz)[:, 0]
    assert found == pytest.approx(1.0 / (1.0 + 1j * hertz / corner), rel=1e-6)
    if 1e4 < corner < HIGHEST / 2:
        level = circuit.gains([("out", "0")], np.array([1e3]))[0, 0]
        halved = corner * math.sqrt(2.0 / abs(level) ** 2 - 1.0)
        assert band(lambda f: circuit.gains([("out", "0")], f)[:, 0]).high == pytest.approx(
            halved, rel=1e-4
        )


def test_a_band_pass_has_both_its_corners() -> None:
    """Poles far apart: 10 Hz and 100 kHz to the thousandth that the other one takes."""
    circuit = passive(
        Capacitor("C1", "in", "middle", 1.0 / (2.0 * math.pi * 10.0 * 101e3)),
        Resistor("R1", "middle", "0", 100e3),
        Resistor("R2", "middle", "out", 1e6),
        Capacitor("C2", "out", "0", 1.0 / (2.0 * math.pi * 1e5 * (1e6 + 990.0))),
        Resistor("leak", "in", "0", 1e12),
        Resistor("leak 2", "out", "0", 1e12),
    )
    found = band(lambda f: circuit.gains([("out", "0")], f)[:, 0])
    assert found.low == pytest.approx(10.0, rel=2e-3)
    assert found.high == pytest.approx(1e5, rel=2e-3)


def test_what_passes_everything_has_no_corner() -> None:
    circuit = passive(Resistor("R1", "in", "0", 1e3))
    found = band(lambda f: circuit.gains([("in", "0")], f)[:, 0])
    assert found.gain == pytest.approx(0.5)
    assert (found.low, found.high) == (0.0, math.inf)


def test_an_impedance_holds_all_that_is_there() -> None:
    """The source's 1 kohm, 2 kohm and 1 uF in parallel."""
    circuit = passive(Resistor("R1", "in", "0", 2e3), Capacitor("C1", "in", "0", 1e-6))
    siemens = 1.5e-3 + 2j * math.pi * SEVERAL * 1e-6
    assert circuit.impedance(("in", "0"), SEVERAL) == pytest.approx(1.0 / siemens, rel=1e-9)


def test_a_part_can_be_taken_out_and_another_put_in() -> None:
    parts = (Resistor("R1", "in", "0", 2e3), Capacitor("C1", "in", "0", 1e-6))
    state = periodic_state(Circuit(parts, "0"))
    changed = SmallSignal(state, [], [Capacitor("C2", "in", "0", 1e-9)], {"C1": 0.0})
    expected = 1.0 / (0.5e-3 + 2j * math.pi * SEVERAL * 1e-9)
    assert changed.impedance(("in", "0"), SEVERAL) == pytest.approx(expected, rel=1e-9)
    with pytest.raises(ValueError, match="changed"):
        SmallSignal(periodic_state(amplifiers.single_ended()), [], [], {"V1L": 1.0})


@pytest.mark.parametrize("make", benches.MAKERS)
@pytest.mark.parametrize("hertz", [30.0, 5e4])
def test_a_gain_leans_on_what_changes_it(make: benches.Maker, hertz: float) -> None:
    """The slope of ln|gain| against each value, by differences of a thousandth."""
    amplifier = make()
    state, driven = periodic_state(amplifier.circuit), [amplifier.generator]
    output = amplifier.output
    found = SmallSignal(state, driven, stray(amplifier)).leans(output, hertz)
    storage, column = state.network.storage, state.network.column

    def size(changed: dict[str, float], added: tuple[Capacitor, ...]) -> float:
        linear = SmallSignal(state, driven, added, changed)
        return math.log(abs(linear.gains([output], np.array([hertz]))[0, 0]))

    for name, leaning in found.items():
        sizes = []
        for times in (0.999, 1.001):
            held = {name: times * abs(storage[column[name]])} if name in column else {}
            more = [
                c._replace(farads=times * c.farads) if c.name == name else c
                for c in stray(amplifier)
            ]
            sizes.append(size(held, tuple(more)))
        assert leaning == pytest.approx((sizes[1] - sizes[0]) / 0.002, abs=1e-5)


@pytest.mark.parametrize("make", benches.MAKERS)
def test_mid_band_is_the_middle_of_the_band(make: benches.Maker) -> None:
    """The resistive network of large_signal, where capacitors hold their voltage."""
    amplifier = make()
    state = periodic_state(amplifier.circuit)
    linear = SmallSignal(state, [amplifier.generator])
    found = linear.gains([amplifier.output], np.array([3e4]))[0, 0]
    expected = MidBand(state, [amplifier.generator]).gain(amplifier.output)
    assert found.real == pytest.approx(expected, rel=5e-3)


def test_crossings_are_found_between_their_neighbours() -> None:
    places = np.geomspace(LOWEST, HIGHEST, 40)
    found = crossings(lambda f: np.log(f / 7.0) * np.log(f / 7e5), places)
    assert found == pytest.approx([7.0, 7e5], rel=1e-4)


def test_a_loop_of_one_pole_keeps_ninety_degrees() -> None:
    """A triode whose plate is led back to its grid by a divider and a large capacitor.

    Its loop gain is gm (ra || R_plate) / (1 + ...), to the part that the divider leaves; one low
    pass in it: the phase margin tends to 90 degrees, and there is no gain margin.
    """
    triode = Triode("V1", "plate", "grid", "0", amplifiers.CG7)
    circuit = Circuit(
        (
            Source("B", "B", "0", dc=250.0),
            Resistor("R1", "B", "plate", 22e3),
            triode,
            Resistor("R2", "grid", "bias", 1e6),
            Source("bias", "bias", "0", dc=-6.0),
            Capacitor("C1", "plate", "back", 100e-6),
            Resistor("leak", "back", "0", 100e6),
            Resistor("R3", "back", "grid", 1e6),
            Capacitor("C2", "grid", "0", 100e-12),
        ),
        "0",
    )
    state = periodic_state(circuit)
    alone = SmallSignal(state, [Generator("grid", "0", 1.0)], [], {"R3": math.inf})
    gain = abs(alone.gains([("plate", "0")], np.array([1e3]))[0, 0])
    loop = loop_gain(state, Branch(("R3",), "back", "grid"))
    found = margins(loop)
    assert found.loop.real > 0.0
    assert abs(loop(np.array([100.0]))[0]) == pytest.approx(0.5 * gain, rel=1e-2)
    (crossing, degrees), *more = [pair for pair in found.phase if pair[0] > 100.0]
    assert not more
    assert degrees == pytest.approx(90.0 + math.degrees(math.asin(2.0 / gain)), abs=1.0)
    assert crossing == pytest.approx(0.5 * gain / (2.0 * math.pi * 500e3 * 100e-12), rel=0.05)
    assert not [pair for pair in found.gain if pair[0] > 100.0]


def run(
    spice: ModuleType, amplifier: benches.Amplifier, extra: tuple[Element, ...], name: str
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """ngspice's frequencies and complex node voltages for 1 V or 1 A of the element ``name``."""
    circuit = benches.with_generator(amplifier, 0.0)
    circuit = circuit._replace(elements=(*circuit.elements, *extra))
    found = spice.small_signal(circuit, name, 0.5, 2e6, 40)
    return found.time, {node: found.volts(node) for node in found.deck.nodes}


@pytest.mark.ngspice
@pytest.mark.parametrize("make", benches.EVERY)
def test_gain_and_corners_agree_with_ngspice(make: benches.Maker, spice: ModuleType) -> None:
    """Gain at every frequency within 0.001 dB; corners within what ngspice's own grid gives."""
    amplifier = make()
    added = stray(amplifier)
    linear = SmallSignal(periodic_state(amplifier.circuit), [amplifier.generator], added)
    hertz, volts = run(spice, amplifier, added, "generator")
    theirs = volts[amplifier.output[0]]
    ours = linear.gains([amplifier.output], hertz)[:, 0]
    assert np.abs(20.0 * np.log10(np.abs(ours / theirs))).max() < 1e-3
    assert np.abs(np.angle(ours / theirs)).max() < 1e-3
    found = band(lambda f: linear.gains([amplifier.output], f)[:, 0])
    level = np.abs(theirs) / (abs(found.gain) * math.sqrt(0.5))
    for corner in (found.low, found.high):
        k = int(np.argmin(np.abs(np.log(hertz / corner))))
        near = slice(k - 2, k + 3)
        order = np.argsort(np.log(level[near]))
        crossed = np.interp(0.0, np.log(level[near])[order], np.log(hertz[near])[order])
        assert corner == pytest.approx(math.exp(crossed), rel=5e-3)


@pytest.mark.ngspice
@pytest.mark.parametrize("make", benches.EVERY)
def test_impedances_agree_with_ngspice(make: benches.Maker, spice: ModuleType) -> None:
    """Into the output, and from the input's grid, the generator connected."""
    amplifier = make()
    added = stray(amplifier)
    linear = SmallSignal(periodic_state(amplifier.circuit), [amplifier.generator], added)
    for node in (amplifier.output[0], amplifier.generator.a):
        probe = CurrentLoad("probe", "0", node, 0.0)
        hertz, volts = run(spice, amplifier, (*added, probe), "probe")
        assert linear.impedance((node, "0"), hertz) == pytest.approx(volts[node], rel=1e-3)


@pytest.mark.ngspice
def test_the_loop_gain_agrees_with_ngspice(spice: ModuleType) -> None:
    """By two injections at the feedback resistor's end, a voltage and a current (Tian 2001)."""
    amplifier = benches.push_pull()
    added = stray(amplifier)
    state = periodic_state(amplifier.circuit)
    loop = loop_gain(state, Branch(("R5",), "speaker", "feedback"), [amplifier.generator], added)
    hertz, theirs = _by_injection(spice, amplifier, added, set())
    ours = loop(hertz)
    assert ours == pytest.approx(theirs, rel=2e-3)


@pytest.mark.ngspice
@pytest.mark.parametrize(
    ("make", "node"),
    [
        (benches.single_ended, "B2"),
        (benches.push_pull, "B1"),
        (benches.push_pull, "bias"),
        (benches.line_stage, "B2"),
        (benches.two_pentodes, "B2"),
        (benches.three_stages, "B4"),
        (benches.regulated_stage, "B3"),
    ],
)
def test_the_way_from_a_supply_node_agrees_with_ngspice(
    make: benches.Maker, node: str, spice: ModuleType
) -> None:
    """Volts at the output for a volt of ripple there, at 50, 100 and 300 Hz: within 0.1 dB."""
    amplifier = make()
    linear = SmallSignal(periodic_state(amplifier.circuit), [amplifier.generator])
    probe = CurrentLoad("probe", "0", node, 0.0)
    hertz, volts = run(spice, amplifier, (probe,), "probe")
    ours = linear.brought((node, "0"), amplifier.output, hertz)
    theirs = volts[amplifier.output[0]] / volts[node]
    mains = (hertz > 45.0) & (hertz < 330.0)
    assert mains.sum() > 20
    assert np.abs(20.0 * np.log10(np.abs(ours / theirs)))[mains].max() < 0.1


@pytest.mark.ngspice
@pytest.mark.parametrize("loading", ["connected", "open", "capacitive"])
def test_phase_margins_agree_with_ngspice(loading: str, spice: ModuleType) -> None:
    """Four times the feedback, the loudspeaker there, off, or 0.1 uF: within half a degree."""
    amplifier = benches.push_pull()
    more = [
        e._replace(ohms=560.0) if isinstance(e, Resistor) and e.name == "R5" else e
        for e in amplifier.circuit.elements
    ]
    amplifier = amplifier._replace(circuit=amplifier.circuit._replace(elements=tuple(more)))
    added = stray(amplifier)
    off = {} if loading == "connected" else {"LS": math.inf}
    if loading == "capacitive":
        added = (*added, Capacitor("capacitive", "speaker", "0", 0.1e-6))
    state = periodic_state(amplifier.circuit)
    branch = Branch(("R5",), "speaker", "feedback")
    found = margins(loop_gain(state, branch, [amplifier.generator], added, off))
    assert found.phase
    theirs = _by_injection(spice, amplifier, added, set(off))
    for hertz, degrees in found.phase:
        angle = np.interp(math.log(hertz), np.log(theirs[0]), np.unwrap(np.angle(theirs[1])))
        size = np.interp(math.log(hertz), np.log(theirs[0]), np.log(np.abs(theirs[1])))
        assert abs(size) < 5e-3
        apart = abs(math.degrees(math.atan2(math.sin(angle), math.cos(angle))))
        assert degrees == pytest.approx(180.0 - apart, abs=0.5)


def _by_injection(
    spice: ModuleType, amplifier: benches.Amplifier, added: tuple[Element, ...], gone: set[str]
) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies and loop gain at R5's end of the feedback, by two injections (Tian 2001)."""
    cut = [
        e._replace(a="cut") if isinstance(e, Resistor) and e.name == "R5" else e
        for e in benches.with_generator(amplifier, 0.0).elements
        if e.name not in gone
    ]
    probes = (Source("probe v", "feedback", "cut"), CurrentLoad("probe i", "0", "cut", 0.0))
    circuit = amplifier.circuit._replace(elements=(*cut, *added, *probes))
    by_volts = spice.small_signal(circuit, "probe v", 0.05, 1e8, 100)
    by_amperes = spice.small_signal(circuit, "probe i", 0.05, 1e8, 100)
    # each run gives the voltage of the loop's far side and the current of the probe into the near one
    v1, i1 = by_volts.volts("cut"), by_volts.amperes("probe v")
    v2, i2 = by_amperes.volts("cut"), by_amperes.amperes("probe v")
    # from (y12 + y21) / (y11 + y22), the y's eliminated
    return by_volts.time, 1.0 / (1.0 + v1 + i2 + 2.0 * (v1 * i2 - i1 * v2)) - 1.0
