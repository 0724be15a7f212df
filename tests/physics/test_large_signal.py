"""Large signal: closed forms, balances, published operation of output tubes, ngspice."""

from __future__ import annotations

import math
from collections import defaultdict
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    NotSolved,
    Pentode,
    Resistor,
    Source,
    Transformer,
    Triode,
)
from coldcheck.lint.physics.clipping import driven, driven_to_clipping, flattest, supply_under
from coldcheck.lint.physics.devices import pentode_currents, triode_current
from coldcheck.lint.physics.large_signal import HERTZ, Drive, Generator, MidBand
from coldcheck.lint.physics.supply import periodic_state
from physics import amplifiers, kirchhoff
from physics.benches import (
    MAKERS,
    Amplifier,
    Service,
    line_stage,
    output_stage,
    push_pull,
    regulated_stage,
    single_ended,
    three_stages,
    two_pentodes,
    with_generator,
)


def generator_amperes(amplifier: Amplifier, drive: Drive) -> np.ndarray:
    given = drive.amplitude * np.cos(2.0 * math.pi * HERTZ * drive.time)
    return (given - drive.volts(amplifier.generator.a)) / amplifier.generator.ohms


def test_a_coupling_capacitor_passes_the_signal_and_no_mean() -> None:
    """1 kohm, 1 uF, 9 kohm: nine tenths; a divider of 100 V behind it keeps its own mean."""
    circuit = Circuit(
        (
            Resistor("R1", "input", "0", 1e6),
            Capacitor("C1", "input", "middle", 1e-6),
            Capacitor("stray", "middle", "0", 100e-12),
            Source("B", "B", "0", dc=100.0),
            Resistor("R2", "B", "middle", 18e3),
            Resistor("R3", "middle", "0", 18e3),
        ),
        "0",
    )
    drive = MidBand(periodic_state(circuit), [Generator("input", "0", 1e3)]).drive(2.0)
    ohms = 1.0 / (1.0 / 9e3 + 1e-6)
    expected = 2.0 * ohms / (ohms + 1e3)
    assert drive.mean("middle") == pytest.approx(50.0, rel=1e-6)
    assert np.ptp(drive.volts("middle")) == pytest.approx(2.0 * expected, rel=1e-4)
    assert drive.slopes(("middle", "0")) == pytest.approx(np.ones(32), rel=1e-6)
    assert drive.amperes("stray") == pytest.approx(np.zeros(64), abs=1e-15)


@pytest.mark.parametrize("make", MAKERS)
def test_a_whisper_is_the_small_signal(make: Any) -> None:
    amplifier = make()
    state = periodic_state(amplifier.circuit)
    band = MidBand(state, [amplifier.generator])
    drive = band.drive(1e-4)
    swing = np.ptp(drive.volts(amplifier.output[0]))
    assert swing == pytest.approx(2e-4 * abs(band.gain(amplifier.output)), rel=1e-3)
    for node in state.network.index:
        assert drive.mean(node) == pytest.approx(state.mean(node), rel=1e-5, abs=1e-5)


@pytest.mark.parametrize("make", MAKERS)
@pytest.mark.parametrize("times", [0.3, 1.0, 3.0])
def test_currents_balance_and_capacitors_pass_no_mean(make: Any, times: float) -> None:
    """Kirchhoff's current law at every node and instant, counted by element names."""
    amplifier = make()
    state = periodic_state(amplifier.circuit)
    clipped = driven_to_clipping(state, [amplifier.generator], [amplifier.output])
    drive = driven(state, [amplifier.generator], times * clipped.amplitude, clipped)
    sums: dict[str, np.ndarray] = defaultdict(lambda: np.zeros(1))
    sums[amplifier.generator.a] = -generator_amperes(amplifier, drive)
    for a, b, current in kirchhoff._flows(
        amplifier.circuit,
        drive.amperes,
        drive.screen_amperes,
        drive.grid_amperes,
        drive.terminal_amperes,
    ):
        sums[a] = sums[a] + current
        sums[b] = sums[b] - current
    assert len(sums) >= 10
    for node, current in sums.items():
        if node != "0":
            assert np.abs(current).max() < 1e-6, node
    for element in amplifier.circuit.elements:
        if isinstance(element, Capacitor):
            current = drive.amperes(element.name)
            assert abs(current.mean()) < 1e-4 * np.ptp(current) + 1e-9, element.name
            assert np.ptp(drive.across(element.name)) <= 0.011 * np.ptp(current) + 1e-9
        if isinstance(element, Transformer):
            for coil in element.coils:
                stands = drive.across(coil.name) - coil.ohms * drive.amperes(coil.name)
                assert abs(stands.mean()) < 1e-4 * np.ptp(stands)


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(MAKERS), st.floats(0.05, 4.0))
def test_power_in_is_heat_and_sound(make: Any, times: float) -> None:
    """Tellegen's theorem: what the dc sources and the generator give is what everything takes."""
    amplifier = make()
    state = periodic_state(amplifier.circuit)
    first = MidBand(state, [amplifier.generator]).first_grid()
    drive = driven(state, [amplifier.generator], times * first)
    given = drive.amplitude * np.cos(2.0 * math.pi * HERTZ * drive.time)
    current = generator_amperes(amplifier, drive)
    delivered = float(np.mean(current * drive.volts(amplifier.generator.a)))
    assert abs(delivered) <= np.mean(given**2) / amplifier.generator.ohms
    taken = 0.0
    for element in amplifier.circuit.elements:
        if isinstance(element, Source):
            delivered -= drive.watts(element.name)
        elif isinstance(element, Transformer):
            taken += sum(drive.watts(coil.name) for coil in element.coils)
        elif isinstance(element, Triode | Pentode):
            taken += drive.watts(element.name) + drive.grid_watts(element.name)
            if isinstance(element, Pentode):
                taken += drive.screen_watts(element.name)
        elif isinstance(element, Resistor):
            taken += drive.watts(element.name)
    assert delivered > 0.5
    assert taken == pytest.approx(delivered, rel=1e-4)


def test_where_it_starts_from_does_not_matter() -> None:
    amplifier = push_pull()
    state = periodic_state(amplifier.circuit)
    band = MidBand(state, [amplifier.generator])
    loud = band.drive(6.0)
    for near in (None, band.drive(0.1), band.drive(2.0), loud):
        again = band.drive(4.0, near)
        assert again.volts("speaker") == pytest.approx(band.drive(4.0).volts("speaker"), abs=1e-5)


def test_more_samples_change_little() -> None:
    amplifier = push_pull()
    state = periodic_state(amplifier.circuit)
    for amplitude in (1.0, 2.0, 4.0):
        coarse = MidBand(state, [amplifier.generator]).drive(amplitude)
        fine = MidBand(state, [amplifier.generator], points=129).drive(amplitude)
        assert coarse.watts("LS") == pytest.approx(fine.watts("LS"), rel=0.005)
        for name in ("V4a", "V4b"):
            assert coarse.screen_watts(name) == pytest.approx(fine.screen_watts(name), rel=0.01)


def test_clipping_is_where_the_output_flattens() -> None:
    """A resistance-coupled pentode: about where its grid reaches the cathode; with more drive the
    output grows little, with less the slope is better."""
    amplifier = single_ended()
    state = periodic_state(amplifier.circuit)
    clipped = driven_to_clipping(state, [amplifier.generator], [amplifier.output])
    assert 0.15 < flattest(clipped, [amplifier.output]).slope < 0.25
    grid = clipped.volts("grid L") - clipped.volts("k2 L")
    assert -1.0 < grid.max() < 0.5
    less = driven(state, [amplifier.generator], 0.8 * clipped.amplitude)
    more = driven(state, [amplifier.generator], 2.0 * clipped.amplitude)
    assert flattest(less, [amplifier.output]).slope > 0.3
    assert more.watts("LS L") < 1.4 * clipped.watts("LS L")
    assert more.screen_watts("V2L") > clipped.screen_watts("V2L") > state.screen_watts("V2L")


def test_an_output_without_signal_is_said_to_have_none() -> None:
    amplifier = line_stage()
    state = periodic_state(amplifier.circuit)
    with pytest.raises(NotSolved, match="no output"):
        driven_to_clipping(state, [amplifier.generator], [("0", "0")])


def test_the_supply_sags_under_the_mean_currents() -> None:
    """Class AB on a silicon bridge: the drive's dc source against the mains cycle solved anew, and
    against what holding the idle supply straight would give."""
    state = periodic_state(amplifiers.push_pull())
    generators = [Generator("input", "0", 1e3)]
    drive = driven_to_clipping(state, generators, [("speaker", "0")])
    supply = supply_under(drive)
    assert drive.mean("B1") < 0.97 * state.mean("B1")
    for node in ("B1", "B2", "B3", "bias"):
        assert supply.mean(node) == pytest.approx(drive.mean(node), rel=1e-3), node
    straight = MidBand(state, generators).drive(drive.amplitude)
    assert abs(straight.mean("B1") - supply.mean("B1")) > 1.0  # so the above is worth something
    name = "T1 plate"
    rms = [math.sqrt(np.mean(s.amperes(name) ** 2)) for s in (state, supply)]
    assert rms[1] > 1.5 * rms[0]


PUBLISHED = (
    # GE 6V6GT 1955, class A1, 180 V; figures at full signal from memory.
    Service("6V6GT", 180, 180, -8.5, 8.5, 30e-3, 4e-3, 5500, 2.0),
    # RCA 6V6GT, class A1, 315 V; from memory.
    Service("6V6GT", 315, 225, -13, 13, 35e-3, 6e-3, 8500, 5.5),
    # RCA 6L6-GC, August 1960, class A1; figures at full signal from memory.
    Service("6L6GC", 250, 250, -14, 14, 79e-3, 7.3e-3, 2500, 6.5),
    # RCA 6V6GT, push-pull class AB1, for the pair; figures at full signal from memory.
    Service("6V6GT", 250, 250, -15, 15, 79e-3, 13e-3, 10000, 10.0, pair=True),
    # 2A3, class A1: the sheet as transcribed at r-type.org; peak drive from memory.
    Service("2A3", 250, None, -45, 45, None, None, 2500, 3.5),
)


@pytest.mark.parametrize("service", PUBLISHED, ids=lambda s: f"{s.kind} {s.plate} {s.load}")
def test_published_operation_at_full_signal(service: Service) -> None:
    """The tube models' error and the makers' spread, not the solver's: power 15 %, mean plate
    current 8 %.  Screen current the model does not have better than 60 %."""
    generators = [Generator("in a", "0", 1.0)]
    if service.pair:
        generators.append(Generator("0", "in b", 1.0))
    drive = driven(periodic_state(output_stage(service)), generators, service.peak)
    names = ["V a", "V b"] if service.pair else ["V a"]
    assert drive.watts("load") == pytest.approx(service.watts, rel=0.15)
    if service.amperes is not None:
        drawn = sum(drive.amperes(name).mean() for name in names)
        assert drawn == pytest.approx(service.amperes, rel=0.08)
    if service.screen_amperes is not None:
        drawn = sum(drive.screen_amperes(name).mean() for name in names)
        assert drawn == pytest.approx(service.screen_amperes, rel=0.6)


def tube_means(circuit: Circuit, run: Any) -> dict[tuple[str, str], float]:
    """Mean currents and heat of every tube, from ngspice's node voltages."""
    found: dict[tuple[str, str], float] = {}
    for element in circuit.elements:
        if not isinstance(element, Triode | Pentode):
            continue
        name, cathode = element.name, run.volts(element.cathode)
        plate, grid = run.volts(element.plate) - cathode, run.volts(element.grid) - cathode
        if isinstance(element, Pentode):
            screen = run.volts(element.screen) - cathode
            current, drawn = pentode_currents(element.law, plate, screen, grid)
            found[name, "screen amperes"] = float(drawn.mean())
            found[name, "screen watts"] = float((drawn * screen).mean())
        else:
            current = triode_current(element.law, plate, grid)
        found[name, "amperes"] = float(current.mean())
        found[name, "watts"] = float((current * plate).mean())
    return found


@pytest.mark.ngspice
@pytest.mark.parametrize(("hertz", "within"), [(1e3, 1.4e-3), (4e3, 1e-3)])
def test_mid_band_is_higher_with_little_primary_inductance(
    hertz: float, within: float, spice: ModuleType
) -> None:
    """10 H turn the load line by 4.5 degrees at 1 kHz, and the second harmonic is 0.11 points low
    there, where the bar is 0.1; at 4 kHz, the middle of that amplifier's band, it is within."""
    amplifier = two_pentodes(10.0)
    amplifier = amplifier._replace(circuit=amplifier.circuit._replace(mains_hz=hertz))
    drive = driven(periodic_state(amplifier.circuit), [amplifier.generator], 0.06)
    initial = {
        e.name: float(np.mean(drive.across(e.name)))
        for e in amplifier.circuit.elements
        if isinstance(e, Capacitor)
    }
    iron = next(e for e in amplifier.circuit.elements if isinstance(e, Transformer))
    initial[iron.name] = float(np.mean(drive.amperes(iron.name)))
    run = spice.transient(with_generator(amplifier, 0.06), 0.1, 0.02 / hertz, initial)
    theirs = np.fft.rfft(run.cycle(0.1, 1.0 / hertz).volts(amplifier.output[0]))
    ours = drive.harmonics(amplifier.output)
    assert abs(ours[1] / ours[0]) == pytest.approx(abs(theirs[2] / theirs[1]), abs=within)
    assert abs(ours[2] / ours[0]) == pytest.approx(abs(theirs[3] / theirs[1]), rel=0.1)


@pytest.mark.ngspice
@pytest.mark.parametrize(
    ("make", "amplitude", "seconds", "within"),
    [
        (single_ended, 0.15, 0.1, 0.01),
        (single_ended, 0.5, 0.1, 0.02),  # twice what clips it
        (line_stage, 6.0, 0.1, 0.01),
        (push_pull, 1.0, 0.12, 0.01),
        (push_pull, 2.0, 0.12, 0.01),  # just clips
        (two_pentodes, 0.06, 0.2, 0.01),
        (three_stages, 0.02, 0.4, 0.01),
        (regulated_stage, 3.0, 0.1, 0.01),
    ],
)
def test_drive_agrees_with_ngspice(
    make: Any, amplitude: float, seconds: float, within: float, spice: ModuleType
) -> None:
    """Power 2 %, mean tube currents and heat 1 % (of the largest of their kind, 0.2 %), at 1 kHz.

    Past clipping 2 %: a coupling capacitor does give way by some tenths of a volt within the cycle
    while the grid draws current.  ngspice starts from our capacitor volts, half a per cent off.
    """
    amplifier = make()
    circuit = amplifier.circuit
    drive = driven(periodic_state(circuit), [amplifier.generator], amplitude)
    initial: dict[str, float] = {}
    for e in circuit.elements:
        if isinstance(e, Capacitor):
            initial[e.name] = 0.995 * float(np.mean(drive.across(e.name)))
        elif isinstance(e, Transformer):
            initial[e.name] = float(np.mean(drive.amperes(e.name)))
    run = spice.transient(with_generator(amplifier, amplitude), seconds, 2e-5, initial)
    last = run.cycle(seconds, 1.0 / HERTZ)
    ohms = next(e.ohms for e in circuit.elements if e.name == amplifier.load)  # type: ignore[union-attr]
    wave = last.volts(amplifier.output[0])
    watts = float(np.mean(wave**2)) / ohms
    assert drive.watts(amplifier.load) == pytest.approx(watts, rel=0.02)
    theirs = np.fft.rfft(wave)
    ours = drive.harmonics(amplifier.output)
    for k in (2, 3):
        share, mine = abs(theirs[k] / theirs[1]), abs(ours[k - 1] / ours[0])
        assert mine == pytest.approx(share, rel=0.1, abs=1e-3 if within < 0.02 else 1e-2)
    means = tube_means(circuit, last)
    assert len(means) >= 4
    for (name, what), value in means.items():
        ours = {
            "amperes": lambda name: float(drive.amperes(name).mean()),
            "watts": drive.watts,
            "screen amperes": lambda name: float(drive.screen_amperes(name).mean()),
            "screen watts": drive.screen_watts,
        }[what](name)
        most = max(v for (_, kind), v in means.items() if kind == what)
        assert ours == pytest.approx(value, rel=within, abs=0.002 * most), (name, what)
