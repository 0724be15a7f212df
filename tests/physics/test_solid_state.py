"""Iron that saturates, transistors, regulators, glow tubes: laws, balances, ngspice."""

from __future__ import annotations

import math
from collections.abc import Callable
from types import ModuleType
from typing import Any

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from coldcheck.lint.physics import devices, semiconductors
from coldcheck.lint.physics.circuit import (
    Bipolar,
    Capacitor,
    Circuit,
    Coil,
    CurrentLoad,
    Element,
    GlowTube,
    Inductor,
    Mosfet,
    NotSolved,
    Regulator,
    Resistor,
    Saturation,
    Source,
    Transformer,
)
from coldcheck.lint.physics.dc import operating_point
from coldcheck.lint.physics.discharge import decay
from coldcheck.lint.physics.floating import floating_nodes
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.ports import Feedback, Flow
from coldcheck.lint.physics.start import cold_start
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers, kirchhoff, solid_state

PEAK = 230.0 * math.sqrt(2.0)
OMEGA = 2.0 * math.pi * 50.0


def circuit_of(*elements: Element) -> Circuit:
    return Circuit(elements, "0")


def drawn(linear: np.ndarray, henries: float, saturation: Saturation) -> np.ndarray:
    """What iron draws for a linear current, straight from what Saturation says."""
    width = devices.BEND * saturation.amperes
    over = width * np.logaddexp(0.0, (np.abs(linear) - saturation.amperes) / width)
    return linear + np.sign(linear) * (henries / saturation.henries - 1.0) * over


TWO_PORTS = {
    "bipolar": (
        lambda a, b: semiconductors.bipolar_currents(1e-14, 0.026, 120.0, a, b),
        (st.floats(-300.0, 1.0), st.floats(-300.0, 1.0)),
    ),
    "mosfet": (
        lambda a, b: semiconductors.mosfet_currents(3.0, 2.0, a, b),
        (st.floats(-20.0, 20.0), st.floats(-1.0, 400.0)),
    ),
    "regulator": (
        lambda a, b: semiconductors.regulator_currents(12.0, 0.05, 2.0, 1.5, 5e-3, a, b),
        (st.floats(-1.0, 14.0), st.floats(-5.0, 20.0)),
    ),
}


@pytest.mark.parametrize("name", TWO_PORTS)
@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_slopes_of_two_ports_are_the_derivatives(name: str, data: st.DataObject) -> None:
    law, (first, second) = TWO_PORTS[name]
    a, b = data.draw(first), data.draw(second)
    d = 1e-6
    found = law(a, b)
    by_a = [(x - y) / (2 * d) for x, y in zip(law(a + d, b)[:2], law(a - d, b)[:2], strict=True)]
    by_b = [(x - y) / (2 * d) for x, y in zip(law(a, b + d)[:2], law(a, b - d)[:2], strict=True)]
    rounding = 1e-9 * (1.0 + float(np.max(np.abs(found[:2])))) / d * 1e-3
    expected = [by_a[0], by_b[0], by_a[1], by_b[1]]
    # A third derivative of the steepest exponential, 1 / slope^3, is what a difference leaves.
    for slope, difference in zip(found[2:], expected, strict=True):
        assert float(slope) == pytest.approx(float(difference), rel=1e-4, abs=rounding)


@settings(max_examples=200, deadline=None)
@given(st.floats(-5.0, 5.0))
def test_iron_is_odd_and_its_slope_the_derivative(knees: float) -> None:
    saturation, henries = Saturation(0.04, 0.1), 30.0
    reactance, ratio = OMEGA * henries, henries / 0.1 - 1.0
    volts, d = knees * 0.04 * reactance, 1e-3

    def extra(v: float) -> tuple[np.ndarray, np.ndarray]:
        return devices.iron_current(reactance, 0.04, ratio, v)

    current, slope = extra(volts)
    assert float(extra(-volts)[0]) == pytest.approx(-float(current), rel=1e-12, abs=1e-15)
    difference = float(extra(volts + d)[0] - extra(volts - d)[0]) / (2.0 * d)
    assert float(slope) == pytest.approx(difference, rel=1e-4, abs=1e-9)
    total = drawn(np.array(knees * 0.04), henries, saturation)
    assert knees * 0.04 + float(current) == pytest.approx(float(total), rel=1e-6, abs=1e-8)


def test_laws_stay_finite_far_out() -> None:
    far = np.array([-1e6, -1e3, -1.0, 0.0, 1.0, 1e3, 1e6])
    for one in far:
        for law, _ in TWO_PORTS.values():
            assert all(np.all(np.isfinite(part)) for part in law(np.full_like(far, one), far))
        assert np.all(np.isfinite(devices.iron_current(1e4, 0.04, 300.0, far)))
        assert np.all(np.isfinite(devices.glow_current(150.0, 0.0, far)))


def test_transistors_do_what_the_textbook_says() -> None:
    """ic = Is exp(vbe / Vs), ib = ic / gain; id = k / 2 (vgs - vt)^2, k (vgs - vt) vds for small."""
    be, bc = semiconductors.bipolar_currents(1e-14, 0.026, 100.0, 0.65, -10.0)[:2]
    collector = 1e-14 * math.exp(0.65 / 0.026)
    assert -float(bc) == pytest.approx(collector, rel=1e-6)
    assert float(be + bc) == pytest.approx(collector / 100.0, rel=1e-6)
    saturated = float(semiconductors.mosfet_currents(3.0, 2.0, 4.0, 50.0)[1])
    assert saturated == pytest.approx(1.0, rel=1e-6)
    ohmic = float(semiconductors.mosfet_currents(3.0, 2.0, 8.0, 0.01)[1])
    assert ohmic == pytest.approx(2.0 * 5.0 * 0.01, rel=2e-3)
    assert float(semiconductors.mosfet_currents(3.0, 2.0, 0.0, 300.0)[1]) < 1e-8


def test_regulator_holds_drops_out_and_limits() -> None:
    def at(raw: float, load: float) -> float:
        part = Regulator("U", "raw", "out", "0", 12.0, 0.05, 2.0, 1.5, 5e-3)
        point = operating_point(
            circuit_of(Source("V", "raw", "0", dc=raw), part, Resistor("load", "out", "0", load))
        )
        into = point.terminal_amperes["U"]
        assert sum(into) == pytest.approx(0.0, abs=1e-9)
        assert point.amperes["U"] == pytest.approx(point.amperes["load"], rel=1e-6)
        assert -into[2] == pytest.approx(5e-3 if raw > 2.0 else 0.0, rel=0.05, abs=1e-3)
        return point.volts["out"]

    assert at(20.0, 24.0) == pytest.approx(12.0 - 0.5 * 0.05, abs=2e-3)
    assert 8.0 < at(10.0, 24.0) < 8.2
    assert at(20.0, 4.0) == pytest.approx(1.5 * 4.0, rel=0.01)
    assert at(0.0, 24.0) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("polarity", [1, -1])
def test_polarity_turns_everything_round(polarity: int) -> None:
    s = polarity
    point = operating_point(
        circuit_of(
            Source("V", "v", "0", dc=30.0 * s),
            Resistor("R1", "v", "b", 100e3),
            Resistor("R2", "b", "0", 20e3),
            Bipolar("Q", "c", "b", "e", *solid_state.SMALL, s),
            Resistor("Re", "e", "0", 1e3),
            Resistor("Rc", "v", "c", 2e3),
            Mosfet("M", "d", "c", "s", 2.0, 0.5, s),
            Resistor("Rd", "v", "d", 100.0),
            Resistor("Rs", "s", "0", 1e3),
            Regulator("U", "v", "o", "0", 5.0, 0.1, 2.0, 0.5, 3e-3, s),
            Resistor("load", "o", "0", 100.0),
        )
    )
    base = (5.0 - 0.69) / (16.67e3 + 151.0 * 1e3)
    assert s * point.amperes["Q"] == pytest.approx(150.0 * base, rel=0.01)
    assert s * point.volts["o"] == pytest.approx(5.0, abs=0.02)
    assert s * point.amperes["M"] == pytest.approx(s * point.volts["s"] / 1e3, rel=1e-6)
    assert 19.0 < s * point.volts["s"] < 21.0


ELEMENT_NAMES = ("bipolar", "mosfet", "regulator", "glow", "choke", "none")


@st.composite
def networks(draw: st.DrawFn) -> Circuit:
    """Resistor networks with sources behind resistors, and up to four devices anywhere."""
    count = draw(st.integers(4, 8))
    ohms = st.floats(1.5, 5.5).map(lambda e: 10.0**e)
    node = st.integers(0, count - 1).map(str)
    elements: list[Element] = []
    for k in range(1, count):
        elements.append(Resistor(f"R{k}", str(k), draw(st.integers(0, k - 1).map(str)), draw(ohms)))
    for k in range(draw(st.integers(1, 3))):
        elements.append(Source(f"V{k}", f"s{k}", "0", dc=draw(st.floats(-400.0, 400.0))))
        elements.append(Resistor(f"S{k}", f"s{k}", draw(node), draw(ohms)))
    for k in range(draw(st.integers(1, 4))):
        a, b, c = (str(n) for n in draw(st.permutations(range(count)))[:3])
        sign = draw(st.sampled_from([1, -1]))
        match draw(st.sampled_from(ELEMENT_NAMES)):
            case "bipolar":
                elements.append(Bipolar(f"Q{k}", a, b, c, *solid_state.SMALL, sign))
            case "mosfet":
                elements.append(Mosfet(f"M{k}", a, b, c, draw(st.floats(-3.0, 4.0)), 0.5, sign))
            case "regulator":
                volts = draw(st.floats(1.25, 50.0))
                elements.append(Regulator(f"U{k}", a, b, c, volts, 0.1, 2.0, 1.0, 5e-3, sign))
            case "glow":
                elements.append(GlowTube(f"G{k}", a, b, 105.0, 200.0, 130.0))
            case "choke":
                elements.append(Inductor(f"L{k}", a, b, 5.0, 100.0, Saturation(0.05, 0.5)))
            case _:
                pass
    return Circuit(tuple(elements), "0")


@settings(max_examples=150, deadline=None)
@given(networks())
def test_kirchhoff_and_power_in_random_networks(circuit: Circuit) -> None:
    """The sum of currents, below 1e-9 of the largest; and no device gives power.

    A MOS transistor driven hundreds of volts beyond its threshold is a difference of two currents
    of kiloamperes, whose last digits are all there is of the third.
    """
    point = operating_point(circuit)
    worst, largest = kirchhoff.imbalance(circuit, point)
    most = max(abs(volts) for volts in point.volts.values())
    steep = sum(e.steepness for e in circuit.elements if isinstance(e, Mosfet))
    digits = 8.0 * float(np.finfo(float).eps) * steep * most**2
    assert worst <= 1e-9 * largest + 1e-12 + digits
    taken = 0.0
    for element in circuit.elements:
        if isinstance(element, Bipolar | Mosfet | Regulator):
            nodes = kirchhoff.terminals(element)
            into = point.terminal_amperes[element.name]
            watts = sum(point.volts[n] * i for n, i in zip(nodes, into, strict=True))
            assert watts >= -1e-9
        else:
            a, b = kirchhoff.terminals(element)
            watts = (point.volts[a] - point.volts[b]) * point.amperes[element.name]
        taken += watts
    delivered = sum(
        abs(point.volts[e.a] * point.amperes[e.name])
        for e in circuit.elements
        if isinstance(e, Source)
    )
    assert abs(taken) <= 1e-9 * delivered + 1e-10 + digits * most


@pytest.mark.parametrize("make", solid_state.MAKERS)
def test_kirchhoff_and_power_balance_over_a_cycle(make: Callable[[], Circuit]) -> None:
    circuit = make()
    state = periodic_state(circuit)
    assert state.bent() == ()
    worst, largest = kirchhoff.imbalance(circuit, state)
    assert worst <= 1e-6 * largest
    taken, delivered = kirchhoff.power(circuit, state)
    assert abs(taken) <= 2e-5 * delivered


def test_a_core_across_the_mains_draws_what_its_flux_asks() -> None:
    """Flux of a sine is a sine: the current is its image, point by point."""
    saturation = Saturation(0.03, 0.2)
    coils = (Coil("p", "a", "0", 1.0, 0.0), Coil("s", "b", "0", 0.5, 0.0))
    state = periodic_state(
        circuit_of(
            Source("V", "a", "0", peak=PEAK),
            Transformer("T", coils, 30.0, saturation),
            Resistor("R", "b", "0", 1e6),
        )
    )
    linear = -PEAK / (OMEGA * 30.0) * np.cos(OMEGA * state.time)
    expected = drawn(linear, 30.0, saturation)
    assert expected.max() > 3.0 * linear.max()
    assert state.amperes("T") == pytest.approx(expected, abs=1e-4 * expected.max())
    assert state.volts("b").max() == pytest.approx(0.5 * PEAK, rel=1e-5)


def test_a_core_switched_on_at_zero_sees_twice_its_flux() -> None:
    """Without resistance the flux stands off by its crest, and by what was left in the core."""
    saturation, henries = Saturation(0.05, 0.2), 30.0
    core = Transformer("T", (Coil("p", "a", "0", 1.0, 0.0),), henries, saturation)
    circuit = circuit_of(Source("V", "a", "0", peak=PEAK), core)
    for left in (0.0, 0.03):
        start = cold_start(circuit, cycles=3, remanent={"T": left})
        linear = np.array(2.0 * PEAK / (OMEGA * henries) + left)
        peak = float(drawn(linear, henries, saturation))
        assert start.peak_amperes("p") == pytest.approx(peak, rel=5e-3)
        at_first = float(drawn(np.array(left), henries, saturation))
        assert start.amperes("T")[0] == pytest.approx(at_first, rel=1e-5, abs=1e-9)
    with pytest.raises(KeyError):
        cold_start(circuit, cycles=1, remanent={"nothing": 0.1})


def test_remanence_of_a_choke_without_saturation_decays() -> None:
    parts = (Inductor("L", "a", "0", 2.0, 10.0), Resistor("R", "a", "0", 90.0))
    start = cold_start(circuit_of(*parts), cycles=3, remanent={"L": 0.5})
    assert start.amperes("L") == pytest.approx(0.5 * np.exp(-start.time / 0.02), abs=2e-4)


def test_a_half_wave_load_pushes_the_core_to_one_side() -> None:
    state = periodic_state(solid_state.half_wave_iron())
    current = state.amperes("T1")
    assert abs(current.max() + current.min()) > 0.3 * np.ptp(current)
    # No dc comes from the mains, so its mean is that of the other windings, seen at the first.
    bias, plate = (float(state.amperes(f"T1 {name}").mean()) for name in ("bias", "plate"))
    assert bias == pytest.approx(-state.amperes("D5").mean(), rel=1e-6)
    assert current.mean() == pytest.approx((60.0 * bias + 260.0 * plate) / 230.0, rel=1e-5)


def test_a_glow_tube_must_strike_first() -> None:
    def across(volts: float) -> tuple[float, tuple[str, ...]]:
        point = operating_point(
            circuit_of(
                Source("V", "s", "0", dc=volts),
                Resistor("R", "s", "g", 10e3),
                GlowTube("G", "g", "0", 150.0, 100.0, 180.0),
            )
        )
        return point.volts["g"], point.dark

    assert across(170.0) == (pytest.approx(170.0), ("G",))
    lit, dark = across(190.0)
    assert lit == pytest.approx(150.0 + 100.0 * 40.0 / 10100.0, rel=1e-4)
    assert dark == ()
    state = periodic_state(solid_state.glowing())
    assert state.network.diodes.dark() == ()
    assert periodic_state(solid_state.glowing(110.0)).network.diodes.dark() == ("G1", "G2", "G3")


def test_a_glow_tube_strikes_as_its_capacitor_charges() -> None:
    """R C charging to 250 V passes 180 V at R C ln(250 / 70), and is held from there."""
    start = cold_start(
        circuit_of(
            Source("V", "s", "0", dc=250.0),
            Resistor("R", "s", "g", 20e3),
            Capacitor("C", "g", "0", 1e-6),
            GlowTube("G", "g", "0", 150.0, 100.0, 180.0),
        ),
        cycles=6,
    )
    struck = start.time[np.nonzero(start.amperes("G") > 1e-6)[0][0]]
    assert struck == pytest.approx(0.02 * math.log(250.0 / 70.0), abs=2.0 * start.time[1])
    assert start.volts("g")[-1] == pytest.approx(150.0 + 100.0 * 100.0 / 20100.0, rel=1e-3)
    assert start.peak_volts("C") <= 180.0 * 1.01


def test_a_device_that_cannot_be_linearised_is_named() -> None:
    """A tube whose plate swings from the mains through nothing: linear it is not."""
    state = periodic_state(
        circuit_of(
            Source("V", "p", "0", dc=150.0, peak=140.0),
            amplifiers.Triode("V1", "p", "g", "k", amplifiers.CG7),
            Resistor("Rg", "g", "0", 1e6),
            Resistor("Rk", "k", "0", 100.0),
        )
    )
    assert state.bent() == ("V1",)


def test_a_regulator_in_the_troughs_is_solved_over_the_cycle() -> None:
    state = periodic_state(solid_state.dropping_out())
    heater, raw = state.volts("heater"), state.volts("raw")
    assert heater.max() == pytest.approx(12.0 - 0.05 * 0.6, abs=5e-3)
    assert heater.min() < 11.7 and raw.min() < 14.0
    assert (raw - heater).min() == pytest.approx(2.0, rel=EDGE)
    assert periodic_state(solid_state.dropping_out(207.0)).bent() == ()


EDGE = semiconductors.EDGE


@pytest.mark.parametrize(
    ("element", "word"),
    [
        (Inductor("L", "a", "0", 1.0, 1.0, Saturation(0.0, 0.1)), "L has no usable saturation"),
        (Inductor("L", "a", "0", 1.0, 1.0, Saturation(0.1, 2.0)), "L has no usable saturation"),
        (
            Transformer("T", (Coil("p", "a", "0", 1.0, 1.0),), None, Saturation(0.1, 1.0)),
            "T has no usable magnetising inductance",
        ),
        (Bipolar("Q", "a", "b", "0", 1e-14, 0.026, math.nan), "Q has no usable current gain"),
        (Bipolar("Q", "a", "b", "0", 0.0, 0.026, 10.0), "Q has no usable saturation current"),
        (Mosfet("M", "a", "b", "0", math.inf, 1.0), "M has no usable threshold"),
        (Regulator("U", "a", "b", "0", 5.0, 0.1, 2.0, 0.0, 0.0), "U has no usable largest"),
        (GlowTube("G", "a", "0", 150.0, 100.0, 0.0), "G has no usable striking voltage"),
    ],
)
def test_unusable_values_are_named(element: Element, word: str) -> None:
    with pytest.raises(NotSolved, match=word):
        operating_point(circuit_of(Source("V", "a", "0", dc=5.0), element))


def test_what_is_off_discharges_through_wire_only() -> None:
    """A saturated choke is its wire; regulators and transistors keep nothing apart."""
    parts = solid_state.regulated().elements + solid_state.swinging_choke().elements[-3:]
    circuit = Circuit(parts, "0")
    found = decay(circuit, {"C10": 300.0, "C20": 15.0})
    assert found.seconds_to("C20", 1.0) == math.inf
    loose = {n for group in floating_nodes(circuit) for n in group}
    assert "raw" in loose and "raw" not in {
        n for group in floating_nodes(circuit, through_devices=True) for n in group
    }


def initial(circuit: Circuit, state: PeriodicState) -> dict[str, float]:
    """What ngspice starts from: our answer at time 0."""
    network, found = state.network, {}
    for element in circuit.elements:
        name = element.name
        match element:
            case Capacitor():
                found[name] = float(state.across(name)[0])
            case Inductor() | Transformer():
                flux = network.flux.get(name)
                if flux is None:
                    found[name] = float(state.amperes(name)[0])
                else:
                    linear = state.solution[flux - 1, 0] * network.dc[flux - 1, flux - 1]
                    found[name] = float(linear)
            case GlowTube():
                found[name] = float(name not in network.diodes.dark())
            case _:
                pass
    return found


@pytest.mark.ngspice
@pytest.mark.parametrize("volts", [150.0, 330.0, 420.0])
def test_operating_points_agree_with_ngspice(volts: float, spice: ModuleType) -> None:
    """Within 0.1 % or 1 mV; found within a microvolt."""
    circuit = solid_state.on_a_battery(volts)
    point = operating_point(circuit)
    assert len(point.terminal_amperes) == 5
    run = spice.operating_point(circuit, dict.fromkeys(point.dark, 0.0))
    for node, found in point.volts.items():
        assert found == pytest.approx(float(run.volts(node)[0]), rel=1e-3, abs=1e-3), node
    for name in run.deck.sensors:
        expected = float(run.amperes(name)[0])
        assert point.amperes[name] == pytest.approx(expected, rel=1e-3, abs=1e-7), name


@pytest.mark.ngspice
@pytest.mark.parametrize("make", solid_state.MAKERS)
def test_periodic_states_agree_with_ngspice(make: Callable[[], Circuit], spice: ModuleType) -> None:
    """Means within 0.1 % or 1 mV, ripple, rms, peaks and VA within 1 %, 0.2 s from our answer.

    Sampled 256 times a cycle, 128 where a regulator drops out, whose ripple then is off by 1.1 %.
    Ends of a floating winding are left out: they hang on leakage.
    """
    circuit = make()
    dropping = make is solid_state.dropping_out
    state = periodic_state(circuit, 128 if dropping else 256)
    bar = 0.012 if dropping else 0.01
    run = spice.transient(circuit, 0.2, 2e-5, initial(circuit, state)).cycle(0.2, 0.02)
    hanging = {"a1", "a2", "l1", "l2", "neutral", "line", "fused", "primary"}
    compared = 0
    for node in set(state.network.index) - hanging:
        volts = run.volts(node)
        assert state.mean(node) == pytest.approx(volts.mean(), rel=1e-3, abs=1e-3), node
        if np.ptp(volts) > 2e-3:
            assert state.ripple(node) == pytest.approx(np.ptp(volts), rel=bar), node
            compared += 1
    for name in run.deck.sensors:
        ours, theirs = state.amperes(name), run.amperes(name)
        rms = math.sqrt(np.mean(theirs**2))
        if rms > 1e-3:
            assert math.sqrt(np.mean(ours**2)) == pytest.approx(rms, rel=0.01), name
            assert np.abs(ours).max() == pytest.approx(np.abs(theirs).max(), rel=bar), name
            compared += 1
    assert compared >= 5


@pytest.mark.ngspice
@pytest.mark.parametrize("phase", [0.0, solid_state.CREST], ids=["zero", "crest"])
@pytest.mark.parametrize("make", solid_state.MAKERS)
def test_cold_starts_agree_with_ngspice(
    make: Callable[[float, float], Circuit], phase: float, spice: ModuleType
) -> None:
    """Capacitor peaks within 0.1 %, current peaks within 1 %, at 128 samples a cycle.

    What a regulator gives its empty output capacitor of 10 uF is over within two samples: 2 %.
    """
    parts = amplifiers.without_tubes(make(253.0, phase)).elements
    circuit = Circuit(tuple(e for e in parts if not isinstance(e, CurrentLoad)), "0")
    start = cold_start(circuit, cycles=8)
    run = spice.transient(circuit, 0.16, 2e-5)
    compared = 0
    for element in circuit.elements:
        if isinstance(element, Capacitor):
            volts = run.volts(element.a) - run.volts(element.b)
            peak = float(volts[np.argmax(np.abs(volts))])
            assert start.peak_volts(element.name) == pytest.approx(peak, rel=1e-3), element.name
            compared += 1
    for name in run.deck.sensors:
        peak = float(np.abs(run.amperes(name)).max())
        if peak > 0.05:
            bar = 0.02 if name == "U1" else 0.01
            assert abs(start.peak_amperes(name)) == pytest.approx(peak, rel=bar), name
            compared += 1
    assert compared >= 4


@pytest.mark.ngspice
def test_inrush_with_remanence_agrees_with_ngspice(spice: ModuleType) -> None:
    """At the worst phase, the core left at two thirds of its knee."""
    circuit = amplifiers.without_tubes(solid_state.half_wave_iron(253.0))
    left = 0.67 * 0.04
    start = cold_start(circuit, cycles=5, remanent={"T1": left})
    run = spice.transient(circuit, 0.1, 1e-5, {"T1": left})
    peak = float(np.abs(run.amperes("T1 primary")).max())
    plain = abs(cold_start(circuit, cycles=5).peak_amperes("T1 primary"))
    assert peak > 1.2 * plain
    assert abs(start.peak_amperes("T1 primary")) == pytest.approx(peak, rel=1e-2)


def test_what_does_not_settle_over_the_cycle_is_taken_as_linear_and_named(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The rectifiers settle without the choke's bend; made to fail with it, that state is given."""
    solve = Feedback.solve

    def only_rectifiers(self: Feedback, *given: Any, **named: Any) -> Flow:
        flow = solve(self, *given, **named)
        return flow if self.count < 4 else flow._replace(found=False)

    whole = periodic_state(solid_state.swinging_choke())
    monkeypatch.setattr(Feedback, "solve", only_rectifiers)
    state = periodic_state(solid_state.swinging_choke())
    assert not whole.bent()
    assert state.bent() == ("L1",)
    assert state.mean("B2") == pytest.approx(whole.mean("B2"), rel=0.05)
