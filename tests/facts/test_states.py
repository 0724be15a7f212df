"""States beside the warm one: switches turned, tubes pulled, heaters coming up, faults, bias lost.

Against sums done by hand (Ohm's and Kirchhoff's laws), against states that must come to the same,
and against ngspice on the same equations.
"""

from __future__ import annotations

import functools
import math
from types import ModuleType

import numpy as np
import pytest

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.warm import State, solve
from coldcheck.lint.netlist import Setting
from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Inductor,
    SiliconDiode,
    Source,
    Transformer,
    TubeDiode,
)
from coldcheck.lint.physics.dc import operating_point
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_text
from documents import ROOT, design

SUPPLY = """
[parts]
J1 = { kind = "inlet" }
F1 = { kind = "fuse", current = "500 mA", voltage = "250 V", speed = "T", breaking = "H", standard = "IEC 60127-2", sheet = 5 }
D1 = { kind = "bridge", voltage = "1000 V", current = "1 A" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "47u", voltage = "400 V" }
C2 = { kind = "capacitor", dielectric = "electrolytic", value = "22u", voltage = "400 V" }
R1 = { kind = "resistor", value = "22k", power = "10 W", voltage = "500 V" }
R2 = { kind = "resistor", value = "1k", power = "2 W", voltage = "350 V" }
E1 = { kind = "chassis bond" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "20" }, windings.ht = { voltage = "200 V", current = "0.1 A", resistance = "30", no_load = "215 V" } }
[schematic]
J1 = ["line", "neutral", "chassis"]
F1 = ["line", "lf"]
T1 = { primary = ["lf", "neutral"], ht = ["a", "b"] }
D1 = ["a", "b", "B1", "0V"]
C1 = ["B1", "0V"]
R1 = ["B1", "0V"]
R2 = ["B1", "B2"]
C2 = ["B2", "0V"]
E1 = "0V"
"""


def with_parts(body: str, parts: str, nets: str) -> str:
    return body.replace("[schematic]", f"{parts}\n[schematic]") + nets


@functools.cache
def demo(name: str, *changes: tuple[str, str]) -> Study:
    """A demo with texts of its file replaced, each of which has to be there."""
    text = (ROOT / "projects" / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    raw, positions = read_text(text.encode(), name)
    return Study(load(raw, positions, name).design)


# ---------------------------------------------------------------- standings of the switches

STANDBY = (
    ('L1 = ["B1", "B2"]', 'L1 = ["B1", "B1 switched"]\nS2 = ["B1 switched", "B2"]'),
    ('V1 = { kind = "tube"', 'S2 = { kind = "switch", positions = { standby = [], play = ["1-2"] } }\nV1 = { kind = "tube"'),
)  # fmt: skip


def test_in_standby_the_supply_rises_and_what_is_behind_falls() -> None:
    study = demo("lantern", *STANDBY)
    (standby,) = study.get("Standings").states
    assert standby.name == "S2 standby, mains high"
    # 220 kohm is all the load that is left: the peak of the winding, less the rectifier's drop
    peak = math.sqrt(2.0) * 250.0 * 253.0 / 230.0
    assert 0.9 * peak < standby.volts("B1") < peak
    assert standby.volts("B2") == pytest.approx(0.0, abs=1e-3)
    assert standby.mean_amperes("R1") == pytest.approx(standby.volts("B1") / 220e3, rel=1e-6)
    worst = study.get("States").volts("B1", "B2")
    assert worst.state == standby.name
    assert worst.value == pytest.approx(standby.volts("B1") + standby.ripple("B1") / 2, rel=1e-2)


def test_a_switch_with_nothing_steady_on_it_is_not_turned() -> None:
    selector = with_parts(
        SUPPLY,
        'S2 = { kind = "switch", positions = { disc = ["1-2"], tape = ["3-2"] } }\n'
        'R3 = { kind = "resistor", value = "47k" }\nC3 = { kind = "capacitor", dielectric = "film", value = "1u" }\n'
        'C4 = { kind = "capacitor", dielectric = "film", value = "1u" }',
        'S2 = ["disc", "in", "tape"]\nR3 = ["in", "0V"]\nC3 = ["disc", "0V"]\nC4 = ["tape", "0V"]\n',
    )
    assert Study(design(selector)).get("Standings").states == ()


def switched(count: int) -> str:
    """The supply with so many loads, each behind a switch of its own."""
    parts = "\n".join(
        f'S{k} = {{ kind = "switch", positions = {{ off = [], on = ["1-2"] }} }}\n'
        f'R{k}0 = {{ kind = "resistor", value = "{k}0k" }}'
        for k in range(2, 2 + count)
    )
    nets = "\n".join(
        f'S{k} = ["B1", "load {k}"]\nR{k}0 = ["load {k}", "0V"]' for k in range(2, 2 + count)
    )
    return with_parts(SUPPLY, parts, nets + "\n")


def test_switches_are_combined_and_many_of_them_turned_alone() -> None:
    two = Study(design(switched(2))).get("Standings").states
    assert [s.name for s in two] == [
        "S2 off, S3 off, mains high",
        "S2 off, mains high",
        "S3 off, mains high",
    ]
    five = Study(design(switched(5))).get("Standings").states
    assert [s.name for s in five] == [f"S{k} off, mains high" for k in range(2, 7)]
    assert all(any("one at a time" in datum.what for datum in s.rests_on) for s in five)
    assert not any("one at a time" in datum.what for s in two for datum in s.rests_on)


# ---------------------------------------------------------------- the worst of all states


def test_the_worst_is_taken_where_it_occurs() -> None:
    study = Study(design(switched(2)))
    states, warm = study.get("States"), study.get("Warm").high
    s2_off, s3_off = (s for s in study.get("Standings").states if s.name.count("off") == 1)
    # with the other load off the supply is higher, and its own load the hotter
    assert states.watts("R30").state == s2_off.name
    assert states.watts("R30").value == pytest.approx(s2_off.watts("R30"))
    assert states.amperes("R20").state == s3_off.name
    # every load on: the winding carries most
    assert states.amperes("T1.ht").state == warm.name
    assert states.dc_amperes("R30").value == pytest.approx(s2_off.mean_amperes("R30"))
    start, lasting = states.charge("C1", "B1", "0V")
    assert start.state == "cold start, mains high" and lasting.state == "S2 off, S3 off, mains high"
    assert states.knows("S2.1-2") and not states.knows("R99")


# ---------------------------------------------------------------- pulled tubes


def test_a_pulled_tube_takes_its_current_and_its_heater_along() -> None:
    study = demo("lantern")
    warm, pulled = study.get("Warm").high, study.get("Pulled").without("V2")
    assert pulled.name == "V2 pulled, mains high"
    assert not pulled.knows("V2") and not pulled.knows("V2.heater.1")
    cold = study.get("ColdStart").steady
    assert warm.volts("B1") < pulled.volts("B1") < cold.volts("B1")
    assert pulled.volts("screen 2") == pytest.approx(pulled.volts("B2"), rel=1e-6)
    # the other heater gets more: the winding has one heater's drop less
    assert pulled.rms("heater a", "heater b") > warm.rms("heater a", "heater b")
    assert study.get("Pulled").without("V2") is pulled


def test_a_tube_that_shared_its_cathode_resistor_has_it_alone() -> None:
    shared = (
        ('R28 = ["cathode b", "0V"]', 'R28 = ["cathode a", "0V"]'),
        ('8 = "cathode b"', '8 = "cathode a"'),
        ('R27 = { kind = "resistor", value = "10"', 'R27 = { kind = "resistor", value = "1k"'),
        ('R28 = { kind = "resistor", value = "10"', 'R28 = { kind = "resistor", value = "1k"'),
    )
    study = demo("harbour", *shared)
    both, alone = study.get("Warm").high, study.get("Pulled").without("V3L")
    for state, names in ((both, ("V2L", "V3L")), (alone, ("V2L",))):
        drawn = sum(state.cathode_amperes(name) for name in names)
        assert state.volts("cathode a L") == pytest.approx(500.0 * drawn, rel=1e-3)
    assert alone.cathode_amperes("V2L") > 1.2 * both.cathode_amperes("V2L")


# ---------------------------------------------------------------- warming up


def test_a_filament_rectifier_gives_its_peak_before_the_load_draws() -> None:
    study = demo("lantern")
    warm_up, cold = study.get("WarmUp"), study.get("ColdStart").steady
    volts = [state.volts("B1") for state in warm_up.states]
    assert volts == sorted(volts, reverse=True)
    assert warm_up.states[-1] is study.get("Warm").high
    assert warm_up.states[0].name == "2 % of emission, mains high"
    highest, when = warm_up.highest("B1", "0V")
    assert when is warm_up.states[0]
    assert 0.95 * cold.peak("B1", "0V") < highest < cold.peak("B1", "0V")
    assert not warm_up.slow("B1")


def test_an_indirectly_heated_rectifier_comes_up_with_its_load() -> None:
    study = demo("lantern", ('type = "5Y3GT"', 'type = "GZ34"'))
    warm_up, cold = study.get("WarmUp"), study.get("ColdStart").steady
    highest, _when = warm_up.highest("B1", "0V")
    # a fiftieth of the rectifier into a fiftieth of the load: about what the whole gives the whole
    assert highest < 0.95 * cold.peak("B1", "0V")
    assert all(warm_up.slow(net) for net in ("B1", "B2", "B3", "plate 1", "screen 2"))
    assert not warm_up.slow("cathode 1") and not warm_up.slow("0V")


def test_a_clamp_at_a_grid_is_no_rectifier() -> None:
    clamped = (
        ('type = "5Y3GT"', 'type = "GZ34"'),
        ('D2 = ["heater b", "pilot"]', 'D2 = ["heater b", "pilot"]\nD3 = ["plate 1", "cathode 1"]'),
        ('D2 = { kind = "diode"', 'D3 = { kind = "diode" }\nD2 = { kind = "diode"'),
    )
    assert demo("lantern", *clamped).get("WarmUp").slow("B1")
    silicon = (
        ('type = "5Y3GT"', 'type = "GZ34"'),
        ('D2 = ["heater b", "pilot"]', 'D2 = ["heater b", "pilot"]\nD3 = ["ht a", "B1"]'),
        ('D2 = { kind = "diode"', 'D3 = { kind = "diode" }\nD2 = { kind = "diode"'),
    )
    assert not demo("lantern", *silicon).get("WarmUp").slow("B1")


# ---------------------------------------------------------------- bias


def test_fixed_bias_and_what_holds_it() -> None:
    bias = demo("harbour").get("FixedBias")
    assert [s.name for s in bias.stages] == ["V2L", "V2R", "V3L", "V3R"]
    assert [f.name for f in bias.failures] == [
        "D1 open",
        "the wiper of RV1L open",
        "the wiper of RV1R open",
    ]
    assert [p.part.ref for p in bias.presets] == ["RV1L", "RV1R"]
    assert demo("lantern").get("FixedBias").failures == ()


def test_without_its_supply_every_grid_is_at_ground() -> None:
    bias = demo("harbour").get("FixedBias")
    state = bias.failed(bias.failures[0])
    assert state.name == "D1 open, mains high"
    for stage in bias.stages:
        assert abs(state.volts(stage.grid or "")) < 1e-3
        assert state.watts(stage.name) > 2.0 * bias.running.watts(stage.name)
    # with the fuses of the plates gone nothing heats them
    after = bias.failed(bias.failures[0], ("F2L", "F2R"))
    assert after.name == "D1 open, F2L blown, F2R blown, mains high"
    assert all(abs(after.watts(stage.name)) < 1e-3 for stage in bias.stages)


@pytest.mark.parametrize(
    "setting",
    [Setting(253.0, open_ends=frozenset({"T1.bias.1"})), Setting(253.0, open_parts=frozenset({"F3"}))],
)  # fmt: skip
def test_an_open_rectifier_stands_for_its_winding_and_its_fuse(setting: Setting) -> None:
    study = demo("harbour")
    bias = study.get("FixedBias")
    opened = bias.failed(bias.failures[0])
    same = solve(study.get("Design"), "", setting)
    for net in ("B1", "B2", "plate a L", "cathode b R", "bias"):
        assert same.volts(net) == pytest.approx(opened.volts(net), rel=1e-4, abs=1e-3)


def test_a_lifted_wiper_leaves_the_grid_to_the_resistor_across_it() -> None:
    bias = demo("harbour").get("FixedBias")
    left = next(f for f in bias.failures if "RV1L" in f.name)
    state = bias.failed(left)
    # no grid draws current, so the resistor across the gap drops nothing
    assert state.volts("trim L") == pytest.approx(state.volts("bias"), rel=1e-4)
    assert state.volts("grid a L") < bias.running.volts("grid a L")


def test_a_preset_moves_its_own_channel() -> None:
    bias = demo("harbour").get("FixedBias")
    preset = bias.presets[0]
    low, high = (bias.turned(preset, at) for at in (0.0, 1.0))
    assert low.name == "RV1L at 0 %, mains high"
    assert low.volts("trim L") == pytest.approx(low.volts("low L"), rel=1e-6)
    assert high.volts("trim L") == pytest.approx(high.volts("high L"), rel=1e-6)
    assert low.watts("V2L") < bias.running.watts("V2L") < high.watts("V2L")


# ---------------------------------------------------------------- shorts


def test_every_winding_is_shorted_behind_its_own_fuse() -> None:
    faults = demo("harbour").get("Faults")
    cases = {case.name: case for case in faults.cases}
    assert list(cases) == [
        "the ht winding of T1 shorted",
        "the bias winding of T1 shorted behind F3",
        "the heater winding of T1 shorted behind F4",
        "one path through BR1 shorted",
        "C1 shorted",
    ]
    bias = cases["the bias winding of T1 shorted behind F3"]
    # 207 V at the primary; the fuse's cold resistance is on top, its library entry not read here
    ratio = 230.0 / 48.0
    most = 207.0 / (2.6 + 18.0 * ratio**2) * ratio
    assert 0.8 * most < bias.through["F3"] < most
    assert bias.load is not None and bias.load == pytest.approx(bias.through["F3"] / 0.1, rel=1e-6)


def test_a_heater_winding_draws_volts_over_reflected_resistance() -> None:
    faults = demo("lantern").get("Faults")
    case = next(c for c in faults.cases if c.name == "the rect winding of T1 shorted")
    ratio = 230.0 / 5.4
    shorted = 207.0 / (14.0 + 0.12 * ratio**2)
    # the heaters of V1 and V2 go on, a few watts of them
    assert shorted < case.primary["T1"] < 1.05 * shorted


def test_two_capacitors_in_series_short_one_after_the_other() -> None:
    stacked = SUPPLY.replace('C1 = ["B1", "0V"]', 'C1 = ["B1", "half"]\nC3 = ["half", "0V"]')
    stacked = stacked.replace("[schematic]", 'C3 = { kind = "capacitor", dielectric = "electrolytic", value = "47u" }\n[schematic]')  # fmt: skip
    cases = {case.name: case for case in Study(design(stacked)).get("Faults").cases}
    plain = {case.name: case for case in Study(design(SUPPLY)).get("Faults").cases}
    assert "C1 and C3 shorted" in cases
    both = cases["C1 and C3 shorted"].primary["T1"]
    assert both == pytest.approx(plain["C1 shorted"].primary["T1"], rel=1e-3)


def test_one_of_two_diodes_in_series_harms_nothing() -> None:
    half_wave = SUPPLY.replace('D1 = { kind = "bridge"', 'D2 = { kind = "diode" }\nD1 = { kind = "diode"')  # fmt: skip
    half_wave = half_wave.replace('D1 = ["a", "b", "B1", "0V"]', 'D1 = ["a", "half"]\nD2 = ["half", "B1"]')  # fmt: skip
    half_wave = half_wave.replace('ht = ["a", "b"]', 'ht = ["a", "0V"]')
    cases = {case.name: case for case in Study(design(half_wave)).get("Faults").cases}
    assert cases["D1 shorted"].load == 0.0
    loaded = cases["C1 shorted"].load  # of the winding: the primary has no rating
    assert loaded is not None and loaded > 1.0


# ---------------------------------------------------------------- inrush

HEATERS = """
[parts]
J1 = { kind = "inlet" }
F1 = { kind = "fuse", current = "500 mA", resistance = "0.5", speed = "T" }
V1 = { kind = "tube", type = "6V6GT" }
E1 = { kind = "chassis bond" }
T1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = "20" }, windings.heater = { voltage = "6.3 V", current = "1 A", resistance = "0.3", no_load = "7 V" } }
[schematic]
J1 = ["line", "neutral", "chassis"]
F1 = ["line", "lf"]
T1 = { primary = ["lf", "neutral"], heater = ["h", "0V"] }
V1 = { 2 = "h", 7 = "0V" }
E1 = "0V"
"""


def test_cold_heaters_draw_by_their_cold_resistance() -> None:
    study = Study(design(HEATERS))
    cold = study.get("ColdStart")
    ratio, ohms = 230.0 / 7.0, 6.3 / 0.45
    for rush, heater in ((cold.rush, ohms), (cold.pull(0.4), ohms / 4.0)):
        expected = 253.0 / (20.5 + (0.3 + heater) * ratio**2) * ratio
        wave = rush.amperes("V1.heater.1")[-4 * 64 :]  # the core has settled by then
        assert math.sqrt(np.mean(np.square(wave))) == pytest.approx(expected, rel=5e-3)


def test_a_core_left_magnetised_draws_what_its_flux_asks_for() -> None:
    """By hand, nothing in its way: flux from 0.2 of its peak, twice the peak of the mains above."""
    study = Study(design(HEATERS.replace("windings.heater", 'rating = "30 VA", windings.heater')))
    cold = study.get("ColdStart")
    (core,) = (e for e in cold.drawing.circuit.elements if isinstance(e, Transformer))
    assert core.magnetising is not None and core.saturation is not None
    idle = 0.15 * 30.0 / 230.0
    assert core.saturation.amperes == pytest.approx(1.25 * math.sqrt(2.0) * idle)
    flux = math.sqrt(2.0) * idle * (0.2 + 2.0 * 1.1)
    steep = core.magnetising / core.saturation.henries
    most = flux + (steep - 1.0) * (flux - core.saturation.amperes)
    drawn = float(np.max(cold.pull(0.02).amperes("T1")))
    assert 0.5 * most < drawn < most  # its own resistance takes a part of the mains


@pytest.mark.parametrize("name", ["lantern", "heron", "harbour"])
def test_bounds_on_the_inrush_close_in_on_it(name: str) -> None:
    inrush = demo.__wrapped__(name).get("Inrush")  # of its own: it remembers the longest run
    for seconds in (0.01, 0.1, 0.5):
        *bounds, exact = inrush.bounds("F1", seconds)
        assert exact == inrush.rms("F1", seconds)
        assert bounds == sorted(bounds, reverse=True)
        assert all(bound > exact for bound in bounds)
    assert len(bounds) == 5
    assert bounds[-1] < 1.05 * exact


def test_what_was_run_for_longer_begins_alike() -> None:
    cold = demo.__wrapped__("lantern").get("ColdStart")  # of its own: it remembers the longest
    short = cold.pull(0.02).amperes("F1")
    long = cold.pull(0.1).amperes("F1")
    assert (short.size, long.size) == (64 + 1, 5 * 64 + 1)
    assert long[: short.size] == pytest.approx(short, rel=1e-9, abs=1e-9)


def test_cold_heaters_do_not_lower_a_capacitors_peak() -> None:
    cold = demo("harbour").get("ColdStart")
    lower, peak = (abs(start.across("C1")[:512]).max() for start in (cold.pull(0.16), cold.rush))
    assert lower < peak
    assert cold.capacitor_volts("C1", "B1", "0V") >= cold.rush.peak_volts("C1")


# ---------------------------------------------------------------- against ngspice


def fed_with_dc(state: State, reservoir: str) -> Circuit:
    """A state's circuit with its reservoir fed by a battery of the voltage that was found."""
    circuit = state.netlist.circuit
    kept = [
        e
        for e in circuit.elements
        if not isinstance(e, TubeDiode | SiliconDiode)
        and not (isinstance(e, Transformer) and e.magnetising is None)
    ]
    battery = Source("battery", reservoir, circuit.ground, dc=state.volts(reservoir))
    return Circuit((*kept, battery), circuit.ground, circuit.mains_hz)


def odd_states() -> dict[str, State]:
    harbour, lantern = demo("harbour"), demo("lantern")
    bias = harbour.get("FixedBias")
    (standby,) = demo("lantern", *STANDBY).get("Standings").states
    return {
        "V2 pulled": lantern.get("Pulled").without("V2"),
        "V1 pulled": lantern.get("Pulled").without("V1"),
        "first emission": lantern.get("WarmUp").states[0],
        "standby": standby,
        "bias failed": bias.failed(bias.failures[0]),
    }


def beginning(state: State, circuit: Circuit, share: float) -> dict[str, float]:
    """What ngspice starts from: our answer times ``share``, but for the dc in a core."""
    held: dict[str, float] = {}
    for element in circuit.elements:
        if isinstance(element, Capacitor):
            held[element.name] = share * state.over(element.a, element.b)
        elif isinstance(element, Inductor):
            held[element.name] = share * state.mean_amperes(element.name)
        elif isinstance(element, Transformer):
            mains = element.magnetising == CORE
            coil = element.name if mains else element.coils[0].name
            held[element.name] = (1.0 if mains else share) * state.mean_amperes(coil)
    return held


CORE = 1e6
"""Henries for a mains transformer's core in ngspice: takes the dc of its windings, which an ideal
one would hand on to the primary."""


@pytest.mark.ngspice
@pytest.mark.parametrize(
    "which", ["V2 pulled", "V1 pulled", "first emission", "standby", "bias failed"]
)
def test_dc_of_an_odd_state(which: str, spice: ModuleType) -> None:
    """Every net within 0.1 % of ngspice, or 2 mV: begun 3 % off, run until all has settled."""
    state = odd_states()[which]
    circuit = fed_with_dc(state, "B1")
    ours = operating_point(circuit)
    run = spice.transient(circuit, 6.0, 2e-3, beginning(state, circuit, 0.97))
    looked_at = 0
    for net, volts in ours.volts.items():
        if net in run.deck.nodes:
            reference = float(run.volts(net)[-1])
            assert volts == pytest.approx(reference, rel=1e-3, abs=2e-3), net
            looked_at += abs(reference) > 1.0
    assert looked_at >= 2
    # and the state itself, ripple and all, has the means of that operating point
    for net in ("B2", "B3"):
        assert state.volts(net) == pytest.approx(ours.volts[net], rel=2e-3, abs=2e-3)


@pytest.mark.ngspice
def test_a_shorted_rectifier(spice: ModuleType) -> None:
    """One leg of a bridge shorted: rms currents within 1 % of a transient run to its end."""
    built = design(SUPPLY)
    setting = Setting(207.0, shorted=(("a", "B1"),), tubes=False)
    state = solve(built, "one path through D1 shorted", setting)
    elements = (
        e._replace(magnetising=CORE) if isinstance(e, Transformer) else e
        for e in state.netlist.circuit.elements
    )
    circuit = state.netlist.circuit._replace(elements=tuple(elements))
    begin = beginning(state, circuit, 0.97)
    run = spice.transient(circuit, 0.4, 2e-5, begin).cycle(0.4, 0.02)
    for coil in ("T1.primary", "T1.ht"):
        theirs = float(np.sqrt(np.mean(np.square(run.amperes(coil)))))
        assert state.rms_amperes(coil) == pytest.approx(theirs, rel=0.01), coil
    case = next(c for c in Study(built).get("Faults").cases if "path through D1" in c.name)
    assert case.primary["T1"] == pytest.approx(state.rms_amperes("T1.primary"), rel=2e-3)


def test_a_fault_at_64_samples_is_that_at_more() -> None:
    setting = Setting(207.0, shorted=(("B1", "0V"),), tubes=False)
    circuit = solve(design(SUPPLY), "", setting).netlist.circuit
    coarse, fine = (periodic_state(circuit, samples) for samples in (64, 512))
    rms = [math.sqrt(np.mean(np.square(s.amperes("T1.primary")))) for s in (coarse, fine)]
    assert rms[0] == pytest.approx(rms[1], rel=1e-3)
