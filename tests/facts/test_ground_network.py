"""The ground network of the demos: what an expert would say of a wire moved, and sums by hand.

Sources: Ohm's law and Kirchhoff's current law; copper by IEC 60028, 17.241 nohm m at 20 degC, rising
0.00393 per kelvin; that a star keeps the charging current out of signal returns, common practice.
"""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.conductors import Conductors
from coldcheck.lint.facts.ground_network import GroundNetwork
from coldcheck.lint.model import Missing
from coldcheck.lint.physics.ground_hum import rms, spectrum
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_text
from documents import ROOT
from physics import agreement

STAR = 'run = ["TB4.2", "XB1.5"]'
"""Where the first stage of Lantern returns."""
RESERVOIR = 'run = ["TB4.2", "TB2.2"]'
W8 = 'run = ["TB2.2", "XB1.1"], type = "hookup", colour = "black", length = "60 mm"'
COPPER = 17.241e-9 * (1.0 + 0.00393 * 30.0) / (0.3259e-6)
"""Ohms per metre of 22 AWG, 0.3259 mm2 (ASTM B258), at 50 degC."""

PLAN = (agreement.Leg(5e-5, 4, 12), agreement.Leg(agreement.SHORT, 3, 4))


def study(name: str, *swaps: tuple[str, str]) -> Study:
    text = (ROOT / "projects" / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in swaps:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return Study(load(*read_text(text.encode(), "x"), "x").design)


def network(name: str, *swaps: tuple[str, str]) -> GroundNetwork:
    found: GroundNetwork = study(name, *swaps).get("GroundNetwork")
    return found


@pytest.mark.parametrize("name", ["lantern", "heron", "harbour"])
def test_wired_as_they_are_the_demos_hum_by_their_ripple_alone(name: str) -> None:
    ground = network(name)
    for output in ground.outputs:
        hum = ground.hum(output)
        assert hum.ground < 0.01 * hum.bare
        assert hum.wired == pytest.approx(hum.bare, rel=0.01)
        assert sum(share.volts for share in ground.shares(output)) == pytest.approx(
            hum.ground, rel=0.01
        )


def test_one_end_moved_from_the_star_to_the_reservoir() -> None:
    """The hum grows, the reservoir's wire is named for it, and the wire that was moved."""
    before, after = network("lantern"), network("lantern", (STAR, RESERVOIR))
    (output,) = after.outputs
    good, bad = before.hum(output), after.hum(output)
    assert bad.ground > 1000.0 * good.ground
    assert bad.wired > 2.0 * good.wired
    share = after.shares(output)[0]
    assert share.link.name == "W8"
    assert share.ohms == pytest.approx(0.06 * COPPER, rel=2e-3)
    assert bad.ground == pytest.approx(share.ohms * share.amperes * share.heard, rel=0.05)
    astray = after.astray(output, share)
    assert astray is not None
    assert (astray[0].name, *astray[1:]) == ("W14", "TB2.2", "XB1.1")
    widest = after.widest()
    assert widest is not None
    stage, pair = widest
    assert stage.startswith("V1")
    assert {pair.a.point, pair.b.point} & {"R5.2"}
    assert pair.volts == pytest.approx(share.ohms * share.amperes, rel=0.05)
    assert pair.twice > 5.0 * pair.mains


@pytest.mark.ngspice
def test_that_hum_agrees_with_ngspice(spice: ModuleType) -> None:
    """At the loudspeaker, between the first stage's cathode and grid, and along another wire."""
    ground = network("lantern", (STAR, RESERVOIR))
    (output,) = ground.outputs
    state, circuit = ground.state.solved, ground.wired.network.circuit
    begin = agreement.stored(state.network.circuit, state, 0.99)
    cycle = agreement.settle(agreement.sensing(circuit), begin, PLAN).cycle
    for a, b in (ground.ends(output), ("TB4.2", "RV1.ccw"), ("TB2.7", "XB1.2")):
        theirs = spectrum((cycle.volts(a) - cycle.volts(b))[None, :])[:, 0]
        assert rms(ground.wired.volts(a, b)) == pytest.approx(rms(theirs), rel=0.01), (a, b)


def test_the_hum_goes_with_the_length_of_the_wire_that_is_shared() -> None:
    once = network("lantern", (STAR, RESERVOIR))
    twice = network("lantern", (STAR, RESERVOIR), (W8, W8.replace("60 mm", "120 mm")))
    (output,) = once.outputs
    assert twice.hum(output).ground == pytest.approx(2.0 * once.hum(output).ground, rel=0.01)


def test_feedback_hears_the_ground_it_is_taken_from() -> None:
    """Of Harbour's loudspeakers one returns to the reservoir: its channel alone hums for it."""
    moved = ('run = ["J3L.-", "XB1.3"]', 'run = ["J3L.-", "TB2.4"]')
    ground = network("harbour", moved)
    left, right = ground.outputs
    assert ground.hum(left).ground > 1000.0 * ground.hum(right).ground
    assert ground.shares(left)[0].link.name == "W7"


def test_a_wire_carries_what_kirchhoff_says() -> None:
    """That of the reservoir, against the currents of the parts beyond it in the state without."""
    found = study("lantern")
    ground: GroundNetwork = found.get("GroundNetwork")
    conductors: Conductors = found.get("Conductors")
    (output,) = ground.outputs
    share = next(s for s in ground.shares(output) if s.link.name == "W8")
    flows = conductors.flows(ground.state)
    wave = flows["C1.-"] + flows["R1.2"]
    assert share.amperes == pytest.approx(float(np.std(wave)), rel=0.01)


@pytest.mark.parametrize(
    ("old", "new", "datum"),
    [
        (W8, W8.replace(', length = "60 mm"', ""), "the length of W8"),
        (', pitch = "40 mm"', "", "the pitch of XB1"),
        (STAR, 'run = ["TB4.2", "TB4.5"]', "how C4.- is soldered to 0V"),
    ],
)
def test_what_is_missing_is_named(old: str, new: str, datum: str) -> None:
    ground = network("lantern", (old, new))
    (output,) = ground.outputs
    with pytest.raises(Missing) as missing:
        ground.hum(output)
    assert missing.value.datum == datum


def test_a_ground_that_no_bond_ties_to_the_metal_is_solved_too() -> None:
    bond, wire = 'E2 = "0V"\n', 'W26 = { run = ["XB1.6", "E2"], type = "earth"'
    idle = 'W26 = { run = ["XB1.6", "TB4.5"], type = "earth"'
    free = network("lantern", (bond, ""), (wire, idle), (STAR, RESERVOIR))
    tied = network("lantern", (STAR, RESERVOIR))
    (output,) = tied.outputs
    assert free.hum(output).ground == pytest.approx(tied.hum(output).ground, rel=0.02)


def test_a_spare_triode_with_all_its_pins_on_ground_is_no_part_of_it() -> None:
    spare = (
        ('1 = "grid 1b", 2 = "plate 1", 3 = "cathode 1"', '1 = "0V", 2 = "0V", 3 = "0V"'),
        ('R7 = ["wiper", "grid 1b"]', 'R7 = ["wiper", "0V"]'),
        ('run = ["V1.2", "V1.5"]', 'run = ["V1.1", "V1.2", "V1.3"]'),
        ('run = ["V1.3", "V1.6"]', 'run = ["V1.3", "TB4.2"]'),
    )
    good, bad = network("lantern", *spare), network("lantern", *spare, (STAR, RESERVOIR))
    (output,) = good.outputs
    assert bad.hum(output).ground > 100.0 * good.hum(output).ground
    assert bad.shares(output)[0].link.name == "W8"
