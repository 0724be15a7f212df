"""Facts of computed states against sums done by hand.

Sources: Ohm's and Kirchhoff's laws; the decay of a capacitor, V = V0 exp(-t / R C); time-current
gates as the fuse library quotes them from IEC 60127-2 and UL 248-14.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lint.engine.study import Study
from coldcheck.lint.model import Missing
from coldcheck.lint.physics.circuit import Capacitor, Circuit, Resistor, ZenerDiode
from coldcheck.lint.physics.resistance import ohms_to_ground
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
R1 = { kind = "resistor", value = "220k", power = "2 W", voltage = "500 V" }
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


def study(body: str = SUPPLY) -> Study:
    return Study(design(body))


def demo(name: str) -> Study:
    file = ROOT / "projects" / f"{name}.toml"
    raw, positions = read_text(Path(file).read_bytes(), name)
    return Study(load(raw, positions, name).design)


def test_mains_levels_follow_the_stated_tolerance() -> None:
    warm = study().get("Warm")
    assert warm.mains == pytest.approx({"low": 207.0, "nominal": 230.0, "high": 253.0})


def test_cold_start_reaches_the_peak_of_the_winding() -> None:
    cold = study().get("ColdStart")
    # mains high, no load but the bleeder, two diode drops of about half a volt
    peak = math.sqrt(2.0) * 215.0 * 253.0 / 230.0
    found = cold.capacitor_volts("C1", "B1", "0V")
    assert peak - 4.0 < found < peak


def test_bleeder_heat_is_volts_squared_over_ohms() -> None:
    cold = study().get("ColdStart")
    volts = cold.steady.volts("B1")
    assert cold.bleeders == {"R1"}
    assert cold.steady.watts("R1") == pytest.approx(volts**2 / 220e3, rel=1e-3)


def test_each_bridge_diode_blocks_the_reservoir_voltage() -> None:
    cold = study().get("ColdStart")
    volts = cold.capacitor_volts("C1", "B1", "0V")
    for leg in ("ac1+", "ac2+", "ac1-", "ac2-"):
        assert cold.inverse_volts(f"D1.{leg}") == pytest.approx(volts, rel=0.01)


def test_discharge_time_is_rc_times_the_log_of_the_ratio() -> None:
    off = study().get("OffStates")
    held = {cap.part.ref: cap for cap in off.capacitors}
    open_r2 = next(state for state in off.states if state.name == "mains off, R2 open")
    expected = 220e3 * 47e-6 * math.log(held["C1"].start / 50.0)
    assert open_r2.seconds_to("C1", 50.0) == pytest.approx(expected, rel=1e-6)
    # with R2 open nothing drains C2, and no leak may be invented for it
    assert open_r2.seconds_to("C2", 50.0) == math.inf
    assert open_r2.volts_at("C2", 1e6) == pytest.approx(held["C2"].start, rel=1e-9)


def test_capacitors_joined_by_resistors_discharge_together() -> None:
    off = study().get("OffStates")
    held = {cap.part.ref: cap for cap in off.capacitors}
    whole = next(state for state in off.states if state.name == "mains off")
    broken = next(state for state in off.states if state.name == "mains off, R2 open")
    assert held["C1"].farads(whole) == pytest.approx(69e-6)
    assert held["C1"].farads(broken) == pytest.approx(47e-6)
    assert held["C2"].farads(broken) == pytest.approx(22e-6)


def test_a_shorted_winding_draws_volts_over_reflected_resistance() -> None:
    faults = study().get("Faults")
    shorted = next(case for case in faults.cases if "winding" in case.name)
    ratio = 230.0 / 215.0
    # the fuse's cold resistance and contacts are well below one ohm
    expected = 207.0 / (20.0 + 30.0 * ratio**2)
    assert shorted.primary["T1"] == pytest.approx(expected, rel=0.01)
    assert shorted.through["F1"] == pytest.approx(shorted.primary["T1"], rel=1e-6)
    assert [case.name for case in faults.cases] == [
        "the ht winding of T1 shorted",
        "one path through D1 shorted",
        "C1 shorted",
    ]


def fuse(**changed: Any) -> Study:
    spec = {"current": "500 mA", "speed": "T", "breaking": "H", "standard": "IEC 60127-2"}
    spec |= {"sheet": 5, **changed}
    words = ", ".join(
        f"{key} = {value}" if isinstance(value, int) else f'{key} = "{value}"'
        for key, value in spec.items()
        if value is not None
    )
    lines = SUPPLY.splitlines()
    at = next(k for k, line in enumerate(lines) if line.startswith("F1 = { kind"))
    lines[at] = f'F1 = {{ kind = "fuse", voltage = "250 V", {words} }}'
    return study("\n".join(lines))


@pytest.mark.parametrize(
    ("times", "seconds"), [(2.0, None), (2.1, 1800.0), (2.75, 80.0), (4.0, 5.0), (12.0, 0.15)]
)
def test_a_time_lag_h_fuse_opens_by_its_published_gates(
    times: float, seconds: float | None
) -> None:
    guard = fuse().get("Fuses").guard("F1")
    opened = guard.opens_within(times * 0.5)
    assert (opened and opened[0]) == seconds
    assert guard.opens_by(120.0) == 2.75


def test_an_l_fuse_is_quicker_at_twice_its_rating() -> None:
    guard = fuse(breaking="L", sheet=3).get("Fuses").guard("F1")
    assert guard.opens_within(1.05)[0] == 120.0
    assert guard.opens_by(120.0) == 2.1


def test_an_unmarked_fuse_is_judged_by_its_slowest_and_its_weakest_sheet() -> None:
    guard = fuse(breaking=None, sheet=None).get("Fuses").guard("F1")
    assert guard.opens_within(1.05)[0] == 1800.0  # sheet 5
    assert guard.holds_for(5.0)[0] == pytest.approx(0.005)  # sheet 5 again: 5 ms at 10 x


def test_a_fuse_holds_by_the_i2t_its_gates_promise() -> None:
    guard = fuse().get("Fuses").guard("F1")
    # 0.25 s at 2.75 x promises 0.25 (2.75 / 2)^2 s at 2 x; the 4 x gate promises less there
    assert guard.holds_for(1.0)[0] == pytest.approx(0.25 * (2.75 / 2.0) ** 2)
    # past the last gate the same i2t: 5 ms at 10 x is 1.25 ms at 20 x
    assert guard.holds_for(10.0)[0] == pytest.approx(0.00125)


def test_a_fast_fuse_promises_little() -> None:
    guard = fuse(speed="F", breaking="L", sheet=2).get("Fuses").guard("F1")
    assert guard.holds_for(1.8)[0] == pytest.approx(0.01 * (4.0 / 3.6) ** 2, rel=1e-6)
    assert guard.holds_for(4.0)[0] == 0.0  # the 10 x gate gives no least time


def test_loading_differs_between_the_standards() -> None:
    assert fuse().get("Fuses").guard("F1").loading.value == 1.0
    american = fuse(standard="UL 248-14", breaking=None, sheet=None)
    assert american.get("Fuses").guard("F1").loading.value == 0.75


def test_a_fuse_without_speed_names_what_is_missing() -> None:
    with pytest.raises(Missing, match="speed") as gap:
        fuse(speed=None).get("Fuses").guard("F1")
    assert gap.value.where == ("parts", "F1", "speed")


def test_ratings_round_to_the_standard_list() -> None:
    fuses = study().get("Fuses")
    assert fuses.next_rating(0.26) == 0.315
    assert fuses.next_rating(0.315) == 0.315
    assert fuses.rating_below(0.26) == 0.25
    assert fuses.next_rating(99.0) == math.inf


def test_film_resistors_keep_their_power_to_70_degrees() -> None:
    ratings = study().get("Ratings")
    part = next(p for p in study().get("Design").parts.values() if p.ref == "R1")
    assert ratings.inside == 50.0
    assert ratings.resistor_watts(part).figure.value == 2.0


def test_a_hot_room_takes_power_off_a_resistor() -> None:
    head = """\
format = 1
[project]
name = "T"
duty = "supply"
[site]
mains = { voltage = "230 V", frequency = "50 Hz", tolerance = "10 %" }
ambient = "60 degC"
"""
    hot = Study(design(SUPPLY, head))
    part = hot.get("Design").parts["R1"]
    # film: 70 to 155 degC (Yageo MFR data sheet), 80 degC inside
    left = (155.0 - 80.0) / (155.0 - 70.0)
    assert hot.get("Ratings").resistor_watts(part).figure.value == pytest.approx(2.0 * left)


def test_the_surge_falls_towards_the_running_current() -> None:
    inrush = study().get("Inrush")
    assert inrush.half == pytest.approx(0.01)
    # once charged, the long-time rms comes down towards the running current
    falling = [inrush.rms("F1", seconds) for seconds in (0.01, 0.1, 0.5, 20.0)]
    assert falling == sorted(falling, reverse=True) and falling[0] > falling[-1]


def test_a_large_empty_capacitor_is_a_short_at_first() -> None:
    cold = study(SUPPLY.replace('"47u"', '"10000u"')).get("ColdStart")
    # V / (Rp + Rs (Vp / Vs)^2) at the crest; contacts, fuse and diodes take a little
    most = math.sqrt(2.0) * 253.0 / (20.0 + 30.0 * (230.0 / 215.0) ** 2)
    assert 0.95 * most < abs(cold.rush.amperes("F1")).max() <= most


def test_ohms_to_ground_add_in_series_and_share_in_parallel() -> None:
    parts = (
        Resistor("R1", "grid", "leak", 1e3),
        Resistor("R2", "leak", "0", 200e3),
        Resistor("R3", "leak", "0", 300e3),
        Capacitor("C1", "grid", "plate", 1e-7),
        Resistor("R4", "plate", "B", 100e3),
    )
    assert ohms_to_ground(Circuit(parts, "0"), ["grid"])["grid"] == pytest.approx(121e3)
    assert ohms_to_ground(Circuit(parts, "0"), ["plate"])["plate"] == math.inf
    zener = ZenerDiode("D1", "B", "0", 12.0, 10.0)
    assert ohms_to_ground(Circuit((*parts, zener), "0"), ["plate"])["plate"] == pytest.approx(
        100010.0
    )


def test_lantern_grid_circuits() -> None:
    lantern = demo("lantern")
    ohms = lantern.get("GridLeaks").ohms
    assert ohms["V2"] == pytest.approx(330e3 + 1500.0)
    # the volume control turned up, open at the input, and the stopper
    assert ohms["V1.1"] == pytest.approx(100e3 + 1e3)


def test_lantern_tubes_as_used() -> None:
    stages = demo("lantern").get("Stages")
    names = {stage.name: stage for stage in (*stages.amplifying, *stages.rectifiers)}
    assert set(names) == {"V1.1", "V1.2", "V2", "V3.1", "V3.2"}
    assert names["V2"].screen == "screen 2" and names["V1.1"].screen is None
    assert names["V3.1"].outputs == {"fil", "B1"}
    heaters = {heater.part.ref: heater.option.volts for heater in stages.heaters}
    assert heaters == {"V1": 6.3, "V2": 6.3, "V3": 5.0}


def test_lantern_rectifier_feed() -> None:
    lantern = demo("lantern")
    (rectifier,) = lantern.get("Rectifiers").all
    transformer = lantern.get("Design").parts["T1"].spec
    first, second = transformer.windings["ht"].resistance
    volts = transformer.windings["ht"].no_load[0]
    reflected = sum(transformer.primary.resistance) * (volts / transformer.primary.whole) ** 2
    assert sorted(feed.ohms for feed in rectifier.feeds) == pytest.approx(
        [first + reflected, second + reflected]
    )
    assert rectifier.first_farads == pytest.approx(16e-6)


@pytest.mark.parametrize("name", ["lantern", "heron"])
def test_power_balances_in_the_warm_state(name: str) -> None:
    """Tellegen's theorem: what the mains gives is what every part takes."""
    state = demo(name).get("Warm").nominal
    given = -state.watts("J1.L")
    taken = 0.0
    for element in state.netlist.circuit.elements:
        kind = type(element).__name__
        if kind in ("Resistor", "Inductor", "SiliconDiode", "TubeDiode", "Triode", "Pentode"):
            taken += state.watts(element.name)
        if kind == "Pentode":
            taken += state.screen_watts(element.name)
        if kind == "Transformer":
            taken += sum(state.watts(coil.name) for coil in element.coils)
    assert taken == pytest.approx(given, rel=0.005)


def test_ratings_hold_in_the_state_their_system_names() -> None:
    for name, ref, system, state in (
        ("lantern", "V2", "design-center", "warm, mains nominal"),
        ("heron", "V1.1", "design-maximum", "warm, mains high"),
    ):
        facts = demo(name)
        (stage,) = (s for s in facts.get("Stages").amplifying if s.name == ref)
        assert stage.part.tube is not None and stage.part.tube.rating_system == system
        assert stage.rated_state(facts.get("Warm")).name == state


def test_a_stated_i2t_is_taken_before_a_maker_s() -> None:
    data = (ROOT / "projects" / "lantern.toml").read_bytes()
    stated = b', i2t = "0.6 A2s"'
    assert stated in data
    i2t = []
    for document in (data.replace(stated, b""), data.replace(stated, b', i2t = "0.9 A2s"')):
        raw, positions = read_text(document, "lantern.toml")
        fuses = Study(load(raw, positions, "lantern.toml").design).get("Fuses")
        i2t.append(fuses.guard("F1").melting_i2t)
    assert i2t[0] != i2t[1] == pytest.approx(0.9)
