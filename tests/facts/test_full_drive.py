"""Full drive of demo amplifiers: balances, sums by hand, and what is said when a datum lacks."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.full_drive import Driven, FullDrive, Level
from coldcheck.lint.model import Missing, NothingToJudge
from coldcheck.lint.physics.circuit import NotSolved, Pentode, Resistor, Transformer, Triode
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_text
from documents import ROOT, design

DEMOS = ("lantern", "heron", "harbour")


def demo(name: str, *changes: tuple[str, str]) -> Study:
    """The facts of a demo design with pieces of its text replaced."""
    text = (ROOT / "projects" / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    raw, positions = read_text(text.encode(), name)
    return Study(load(raw, positions, name).design)


@pytest.fixture(scope="module")
def studies() -> dict[str, Study]:
    return {name: demo(name) for name in DEMOS}


def full_drive(study: Study) -> FullDrive:
    found = study.get("FullDrive")
    assert isinstance(found, FullDrive)
    return found


def taken(level: Level) -> float:
    """Mean heat of everything behind the rectifiers, and sound."""
    watts = 0.0
    for element in level.netlist.circuit.elements:
        match element:
            case Triode() | Pentode():
                watts += level.watts(element.name) + level.grid_watts(element.name)
                if isinstance(element, Pentode):
                    watts += level.screen_watts(element.name)
            case Resistor():
                watts += level.watts(element.name)
            case Transformer() if element.magnetising is not None:
                watts += sum(level.watts(coil.name) for coil in element.coils)
            case _:
                if type(element).__name__ == "Inductor":
                    watts += level.watts(element.name)
    return watts


@pytest.mark.parametrize("name", DEMOS)
def test_what_the_rectifiers_give_is_heat_and_sound(studies: dict[str, Study], name: str) -> None:
    """Tellegen's theorem in the mean; what the source gives is far less than a per mille."""
    for level in full_drive(studies[name]).nominal.levels:
        windings = [
            level.watts(coil.name)
            for element in level.netlist.circuit.elements
            if isinstance(element, Transformer) and element.magnetising is None
            for coil in element.coils
        ]
        given = level.drive.supply_watts()
        assert given > 1.0
        assert taken(level) + sum(windings) == pytest.approx(given, rel=0.005), level.name


@pytest.mark.parametrize("name", DEMOS)
def test_amplifier_and_supply_agree(studies: dict[str, Study], name: str) -> None:
    """The dc source the drive was found with, against the mains cycle solved under its load."""
    study = studies[name]
    for driven in (full_drive(study).nominal, full_drive(study).high):
        for level in driven.levels:
            for net in (n for n in ("B1", "B2", "B3") if level.has(n)):
                assert level.supply.volts(net) == pytest.approx(level.volts(net), rel=2e-3)


def test_a_class_a_stage_runs_coolest_when_driven(studies: dict[str, Study]) -> None:
    """What a single-ended stage gives is taken from its plate's heat; the screen pays beyond."""
    study = studies["lantern"]
    driven, warm = full_drive(study).nominal, study.get("Warm").nominal
    clipping, below, beyond = driven.levels
    assert clipping.watts("V2") < below.watts("V2") < warm.watts("V2")
    assert clipping.cathode_amperes("V2") == pytest.approx(warm.cathode_amperes("V2"), rel=0.1)
    watts, level = driven.screen_watts("V2")
    assert level == "driven to twice clipping, mains nominal"
    assert watts == pytest.approx(beyond.screen_watts("V2")) and watts > 2.0 * warm.screen_watts(
        "V2"
    )
    # ideal class A gives half of what its plate takes; this one loses at knee and transformer
    assert 0.25 < driven.output_watts["J3"] / warm.watts("V2") < 0.5


def test_class_ab_draws_more_and_its_supply_sags(studies: dict[str, Study]) -> None:
    study = studies["harbour"]
    driven, warm = full_drive(study).nominal, study.get("Warm").nominal
    assert driven.cathode_amperes("V2L")[0] > 1.3 * warm.cathode_amperes("V2L")
    assert driven.cathode_peak("V2L")[0] > 2.0 * driven.cathode_amperes("V2L")[0]
    assert driven.volts("B1")[0] < 0.98 * warm.volts("B1")
    for coil in ("T1.ht", "T1.primary"):
        assert driven.supply.rms_amperes(coil) > 1.2 * warm.rms_amperes(coil)
    assert driven.output_watts["J3L"] == pytest.approx(driven.output_watts["J3R"], rel=1e-6)


def test_output_power_is_that_of_the_wave(studies: dict[str, Study]) -> None:
    level = full_drive(studies["lantern"]).high.clipping
    wave = level.between("speaker", "0V")
    # an even wave about its crest: harmonics by the cosine sum, Parseval's theorem
    spectrum = np.fft.rfft(wave) / wave.size
    watts = (2.0 * np.sum(np.abs(spectrum[1:-1]) ** 2) + np.abs(spectrum[-1]) ** 2) / 8.0
    assert full_drive(studies["lantern"]).high.output_watts["J3"] == pytest.approx(watts, rel=1e-3)
    assert abs(spectrum[2]) < abs(spectrum[1])


def test_the_source_s_resistance_is_in_the_way() -> None:
    """100 kohm of source into 100 kohm of volume control: about half arrives."""
    amplitudes = [
        full_drive(demo("lantern", ('impedance = "1k"', f'impedance = "{ohms}"'))).nominal
        for ohms in ("1k", "100k")
    ]
    low, high = (driven.clipping.amplitude for driven in amplitudes)
    assert high / low == pytest.approx(200.0 / 101.0, rel=0.03)


def test_a_preamplifier_is_taken_unloaded(studies: dict[str, Study]) -> None:
    heron = full_drive(studies["heron"])
    assert [output.ref for output in heron.outputs] == ["J3L", "J3R"]
    assert heron.nominal.output_watts == {}
    assert [d.what for d in heron.rests_on if "feeds" in d.what] == [
        "what J3L feeds, taken to draw nothing",
        "what J3R feeds, taken to draw nothing",
    ]
    # 6CG7 class on some 290 V: tens of volts of swing, far less than its supply
    peak = max(abs(heron.nominal.clipping.peak("send L", "0V")), 0.0)
    assert 30.0 < peak < 200.0


def test_ratings_are_met_at_the_mains_voltage_of_their_system(studies: dict[str, Study]) -> None:
    for name, ref, mains in (("lantern", "V2", "nominal"), ("heron", "V1.1", "high")):
        drive, stages = full_drive(studies[name]), studies[name].get("Stages")
        (stage,) = (s for s in stages.amplifying if s.name == ref)
        rated: Driven = drive.rated(stage)
        assert rated.plate_watts(ref)[1].endswith(f"mains {mains}")
        assert rated.grid_peak(stage)[0] > rated.clipping.volts(stage.grid) - rated.clipping.volts(
            stage.cathode
        )


def test_an_input_on_nothing_drives_nothing() -> None:
    loose = ('RV1 = ["0V", "wiper", "in"]', 'RV1 = ["0V", "wiper", "elsewhere"]')
    with pytest.raises(NotSolved, match=r"driven to clipping, mains nominal: .*no output"):
        full_drive(demo("lantern", loose)).nominal.clipping  # noqa: B018


@pytest.mark.parametrize(
    ("change", "datum", "where"),
    [
        (('role = "input"', 'role = "other"'), "where the signal enters", ("parts",)),
        (
            ('source = { level = "2 V", impedance = "1k", cable = "300 pF" }', ""),
            "impedance of what feeds the input",
            ("site", "source"),
        ),
        (
            ('load = { impedance = "8", sensitivity = "90 dB", distance = "1 m" }', ""),
            "impedance J3 feeds",
            ("site", "load"),
        ),
        (('role = "loudspeaker"', 'role = "other"'), "where the signal leaves", ("parts",)),
    ],
)
def test_a_missing_datum_is_named(
    change: tuple[str, str], datum: str, where: tuple[str, ...]
) -> None:
    with pytest.raises(Missing, match=datum) as gap:
        demo("lantern", change).get("FullDrive")
    assert gap.value.where == where


def test_a_supply_has_no_full_drive() -> None:
    with pytest.raises(NothingToJudge):
        Study(design('[parts]\nJ1 = { kind = "inlet" }\n')).get("FullDrive")


def test_no_digit_depends_on_what_was_asked_first() -> None:
    one, other = full_drive(demo("lantern")), full_drive(demo("lantern"))
    first = other.nominal.screen_watts("V2")
    assert one.high.screen_watts("V2") == other.high.screen_watts("V2")
    assert one.nominal.screen_watts("V2") == first
    assert math.isfinite(first[0])


def test_what_is_not_fed_is_not_driven() -> None:
    """The fuse hangs on a net of its own: no supply, no signal, and a sentence that says so."""
    study = demo("lantern", ('F1 = ["line", "line fused"]', 'F1 = ["lien", "line fused"]'))
    with pytest.raises(NotSolved, match="driven to clipping, mains high: "):
        full_drive(study).high.clipping  # noqa: B018 - asked for, and only then solved
    assert study.get("States").driven == ()
