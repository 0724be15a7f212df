"""Feeds, ripple and slow swings of the demos: against their drawings, and against a remake."""

from __future__ import annotations

import pytest

from coldcheck.lint.facts.feeds import Feeds, make
from coldcheck.lint.facts.ripple import Ripple
from coldcheck.lint.facts.slow_modes import SlowModes
from coldcheck.lint.facts.stages import Stages
from coldcheck.lint.facts.states import States
from coldcheck.lint.model import NothingToJudge
from facts.test_full_drive import demo


@pytest.mark.parametrize(
    ("name", "drawn"),
    [
        ("lantern", {"B2": {"V2"}, "B3": {"V1.1", "V1.2"}}),
        ("heron", {"B3": {"V1.1", "V1.2", "V2.1", "V2.2"}}),
        (
            "harbour",
            {
                "B2": {"V2L", "V3L", "V2R", "V3R"},
                "B3": {"V2L", "V3L", "V2R", "V3R"},
                "B4 L": {"V1L.1", "V1L.2"},
                "B4 R": {"V1R.1", "V1R.2"},
            },
        ),
    ],
)
def test_feeds_are_those_of_the_drawing(name: str, drawn: dict[str, set[str]]) -> None:
    feeds: Feeds = demo(name).get("Feeds")
    assert {feed.net: set(feed.stages) for feed in feeds.every} == drawn
    # the output stage draws the most
    assert feeds.every[0].net == next(iter(drawn))


def test_the_way_of_the_hum_is_what_smoothing_takes_it_away() -> None:
    """Ten times C2 leaves a tenth; a hundred times C3, by which none comes, leaves all."""
    hums = {}
    for ref, change in (
        ("", ("", "")),
        ("C2", ('value = "47u"', 'value = "470u"')),
        ("C3", ('value = "22u"', 'value = "2200u"')),
    ):
        ripple: Ripple = demo("lantern", *([change] if ref else [])).get("Ripple")
        (output,) = ripple.outputs
        hums[ref] = ripple.volts(output)
        if not ref:
            way = ripple.way(output)
            assert way is not None and way[0] == "B2" and way[1] < 0.01
            assert ripple.capacitors("B2") == ("C2",)
    assert hums["C2"] / hums[""] == pytest.approx(0.1, rel=0.05)
    assert hums["C3"] / hums[""] == pytest.approx(1.0, rel=0.05)


def test_a_push_pull_stage_hums_by_its_bias() -> None:
    """Plates and screens cancel in the transformer; the bias reaches one half more than the other."""
    ripple: Ripple = demo("harbour").get("Ripple")
    for output in ripple.outputs:
        way = ripple.way(output)
        assert way is not None and way[0] == "bias"


def test_a_choke_s_swing_is_its_own() -> None:
    slow: SlowModes = demo("lantern").get("SlowModes")
    mode = slow.of_choke("L1")
    assert mode is not None
    # 10 H against 16 uF and 47 uF one after the other, by hand: 14.6 Hz
    assert mode.hertz == pytest.approx(14.6, rel=0.05)
    assert set(mode.shares) == {"L1", "C1", "C2"}
    assert slow.of_choke("L9") is None
    assert not slow.swings


def test_full_drive_is_among_the_states_a_part_is_held_to() -> None:
    study = demo("harbour")
    states: States = study.get("States")
    warm, full = study.get("Warm").high, study.get("FullDrive").high
    worst = states.watts("R25L")
    assert worst.state == "driven to clipping, mains high"
    assert worst.value == pytest.approx(full.clipping.watts("R25L"))
    assert worst.value > 10.0 * warm.watts("R25L")
    # a dropper carries its ripple too: the mains cycle under the load has it
    assert states.watts("R2").value == pytest.approx(full.supply.watts("R2"))
    assert full.supply.watts("R2") > full.clipping.watts("R2")
    # a bleeder's worst state is that without a load
    assert states.watts("R1").state == "warm, mains high"
    (played,) = states.played
    assert played.rms_amperes("T1.ht") < full.supply.rms_amperes("T1.ht")


def test_without_a_source_the_states_are_those_without_signal() -> None:
    source = 'source = { level = "2 V", impedance = "1k", cable = "300 pF" }\n'
    states: States = demo("lantern", (source, "")).get("States")
    assert states.driven == () and states.played == ()
    assert states.watts("R10").state == "warm, mains high"


def test_what_does_not_amplify_has_no_feeds() -> None:
    study = demo("lantern")
    asked = study.get("Design"), study.get("Schematic"), Stages((), (), ()), study.get("Warm")
    with pytest.raises(NothingToJudge):
        make(*asked)
