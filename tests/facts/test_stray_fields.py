"""Stray fields of the demos: as physics says when parts are turned, moved, measured."""

from __future__ import annotations

import math

import pytest

from coldcheck.lint.facts.stray_fields import GAP, Pickup, StrayFields
from coldcheck.lint.model import Basis, Datum, NothingToJudge
from documents import design
from facts.test_full_drive import demo

T1 = "T1 = { at = [70, 220], "
T2L = "T2L = { at = [265, 215], turn = 90, "
RATING = 'rating = "220 VA"\n'
TALL = "size = [100, 100, 100]\n"


def stray(name: str, *changes: tuple[str, str]) -> StrayFields:
    found = demo(name, *changes).get("StrayFields")
    assert isinstance(found, StrayFields)
    return found


def felt(name: str, victim: str, *changes: tuple[str, str]) -> Pickup:
    """What T1 induces in a part or loop."""
    (found,) = [p for p in stray(name, *changes).of_mains if p.victim == victim]
    return found


def test_by_hand() -> None:
    """Harbour: T2L 195 mm to the right of T1, 5 mm nearer and lower by half of what it is smaller."""
    found = felt("harbour", "T2L")
    lift = 0.5 * 0.08 * ((90.0 / 100.0) ** 0.25 - (220.0 / 100.0) ** 0.25)
    x, y, z = 0.195, -0.005, lift
    r = math.sqrt(x * x + y * y + z * z)
    # 50 uT at 100 mm is 2e-7 m / r^3; coils along x and y: 1e-7 m 3 x y / r^5
    moment = 50e-6 * 0.1**3 / 2e-7 * 2.2**0.75
    area = 4.0 * math.sqrt(2.0 * 30.0 * 6600.0) / (2.0 * math.pi * 30.0 * 1.2)
    assert found.metres == pytest.approx(r)
    assert found.volts == pytest.approx(
        2.0 * math.pi * 50.0 * area * 1e-7 * moment * 3.0 * x * abs(y) / r**5
    )
    assert found.where == "T2L.primary" and found.hertz == 50.0
    along = 1e-7 * moment * (3.0 * x * x / r**2 - 1.0) / r**3
    assert found.turned == pytest.approx(2.0 * math.pi * 50.0 * area * along)


def test_either_of_two_coils_turned_alone_makes_it_worse() -> None:
    """One on the other's axis: nearly nothing, then all of it, and side by side half of that."""
    drawn = felt("harbour", "T2L")
    in_line = felt("harbour", "T2L", (T2L, T2L.replace("90", "0")))
    beside = felt("harbour", "T2L", (T1, T1 + "turn = 90, "))
    assert in_line.volts == pytest.approx(drawn.turned)
    assert drawn.turned is not None and in_line.turned == pytest.approx(drawn.volts)
    assert drawn.volts < 0.05 * in_line.volts
    assert beside.volts == pytest.approx(0.5 * in_line.volts, rel=0.01)
    assert drawn.degrees is not None and drawn.degrees > 87.0
    both = felt("harbour", "T2L", (T1, T1 + "turn = 90, "), (T2L, T2L.replace("90", "0")))
    assert both.volts == pytest.approx(drawn.volts)


@pytest.mark.parametrize("turn", [0, 30, 60, 180, -150])
def test_a_turn_goes_by_the_cosine(turn: int) -> None:
    """The field at T2L is along x but for 2 degrees, and a half turn changes nothing."""
    drawn = felt("harbour", "T2L")
    there = felt("harbour", "T2L", (T2L, T2L.replace("90", str(turn))))
    assert drawn.turned is not None
    x, y = drawn.turned, -drawn.volts  # 3 x y: towards the front where it is to the rear
    angle = math.radians(turn)
    assert there.volts == pytest.approx(abs(x * math.cos(angle) + y * math.sin(angle)))


def test_twice_as_far_is_an_eighth() -> None:
    sizes = [(RATING, RATING + TALL), ('power = "30 W"\n', 'power = "30 W"\n' + TALL)]
    here = felt("harbour", "T2L", (T1, T1.replace("[70, 220]", "[165, 215]")), *sizes)
    there = felt("harbour", "T2L", (T1, T1.replace("[70, 220]", "[65, 215]")), *sizes)
    assert here.turned is not None and there.turned is not None
    assert (here.metres, there.metres) == pytest.approx((0.1, 0.2))
    assert here.turned / there.turned == pytest.approx(8.0)
    assert there.volts == pytest.approx(0.0, abs=1e-12)


def test_what_is_measured_counts() -> None:
    """A field at twice the distance means eight times the magnet; a toroid is a tenth."""
    assumed = felt("harbour", "T2L")
    assert Datum("the stray field of T1, by its rating", Basis.ASSUMED) in assumed.rests_on
    near = felt("harbour", "T2L", (RATING, RATING + 'stray = "20 uT at 100 mm"\n'))
    far = felt("harbour", "T2L", (RATING, RATING + 'stray = "20 uT at 200 mm"\n'))
    assert far.volts == pytest.approx(8.0 * near.volts)
    assert near.volts / assumed.volts == pytest.approx(20.0 / (50.0 * 2.2**0.75))
    assert Datum("the stray field of T1", Basis.MEASURED) in near.rests_on
    round_one = felt("harbour", "T2L", (RATING, RATING + 'core = "toroid"\naxis = "along"\n'))
    assert round_one.volts == pytest.approx(0.1 * assumed.volts)


def test_a_coil_that_stands_up_links_nothing_of_one_that_lies_level_with_it() -> None:
    up = ('lead = "hookup"\n\n[channel.schematic]', 'axis = "up"\n\n[channel.schematic]')
    tall = ('power = "30 W"\n', 'power = "30 W"\n' + TALL)
    level = (RATING, RATING + TALL)
    found = felt("harbour", "T2L", up, tall, level)
    assert found.volts == 0.0 and found.degrees == pytest.approx(90.0)
    assert found.turned == 0.0


def test_a_choke_hums_by_its_ripple_and_hears_the_mains() -> None:
    fields = stray("lantern")
    (made,) = [p for p in fields.of_chokes if p.victim == "T2"]
    state = demo("lantern").get("Warm").nominal
    ripple = math.sqrt(state.rms_amperes("L1") ** 2 - state.mean_amperes("L1") ** 2)
    # moment: four times the ampere-turns through the limb, 10 H x 80 mA / 1 T
    moment = 4.0 * 10.0 * 0.08 * ripple
    assert made.hertz == 100.0
    assert made.tesla < 2e-7 * moment / made.metres**3
    assert made.tesla > 1e-7 * moment / made.metres**3
    (heard,) = [p for p in fields.of_mains if p.victim == "L1"]
    # L1 is straight in front of T1 and turned across it
    assert heard.where == "L1" and heard.volts == pytest.approx(0.0, abs=1e-15)
    assert not fields.lacks


def test_a_loop_of_input_wiring_is_as_large_as_it_is_wired() -> None:
    """Heron's wires lie by their returns: only the gap is left, and a twist takes that too."""
    name = "the input loop of J2L.tip to V1.1"
    gap = felt("heron", name)
    length = 0.19 + 0.09
    assert gap.where == "V1.1"
    assert gap.volts < 2.0 * math.pi * 50.0 * 17.7e-6 * 0.1**3 / 0.1**3 * GAP * length
    twisted = felt(
        "heron",
        name,
        ('length = "190 mm" }\nW31', 'length = "190 mm", twist = "W31" }\nW31'),
        ('length = "190 mm" }\nW32', 'length = "190 mm", twist = "W30" }\nW32'),
        ('length = "90 mm" }\nW33', 'length = "90 mm", twist = "W37" }\nW33'),
        (
            '"RV1.ccw", "TB3.3"], type = "signal", colour = "black", length = "90 mm" }',
            '"RV1.ccw", "TB3.3"], type = "signal", colour = "black", length = "90 mm", twist = "W32" }',
        ),
    )
    assert twisted.volts == pytest.approx(0.0, abs=1e-15)
    # the return of Lantern's goes round by the bus
    wide = felt("lantern", "the input loop of J2.tip to V1.1")
    assert wide.volts > 0.2e-6


def test_a_ground_loop_is_a_turn() -> None:
    """A second ground wire to a strip closes a ring in the plane of the top."""
    added = (
        "W26 = {",
        'W27 = { run = ["TB3.2", "XB1.4"], type = "hookup", length = "80 mm" }\nW26 = {',
    )
    (ring,) = [p for p in stray("lantern", added).of_mains if "ground loop" in p.victim]
    assert ring.where == "W27" and 1e-9 < ring.volts < 10e-6
    # a magnet that stands on it sends more through it than one that lies
    up = ('rating = "50 VA"', 'rating = "50 VA"\naxis = "up"')
    (most,) = [p for p in stray("lantern", added, up).of_mains if "ground loop" in p.victim]
    assert most.volts > ring.volts


def test_what_is_missing_is_named() -> None:
    fields = stray(
        "harbour",
        (
            'T2L = { at = [265, 215], turn = 90, leads_through = { primary = "H3", secondary = "H4" } }\n',
            "",
        ),
    )
    assert {p.victim for p in fields.of_mains} >= {"T2R"} and not [
        p for p in fields.of_mains if p.victim == "T2L"
    ]
    assert [gap.datum for gap in fields.lacks] == ["a place in [layout] for T2L"]
    onto = stray(
        "harbour",
        (T2L, "T2L = { at = [70, 220], turn = 90, "),
        ('power = "30 W"\n', 'power = "30 W"\n' + TALL),
        (RATING, RATING + TALL),
    )
    assert "places that differ for T1 and T2L" in [gap.datum for gap in onto.lacks]


def test_without_iron_there_is_nothing() -> None:
    from coldcheck.lint.engine.study import Study

    body = '[parts]\nR1 = { kind = "resistor", value = "1k" }\n[schematic]\nR1 = ["a", "b"]\n'
    with pytest.raises(NothingToJudge):
        Study(design(body)).get("StrayFields")


def test_a_choke_that_carries_nothing_makes_no_field() -> None:
    alone = ('L1 = ["B1", "B2"]\n', 'L1 = ["spare a", "spare b"]\n')
    bridged = ('C2 = ["B2", "0V"]\n', 'C2 = ["B2", "0V"]\nR20 = ["B1", "B2"]\n')
    part = ("[parts.T1]", 'R20 = { kind = "resistor", value = "180" }\n\n[parts.T1]')
    (found,) = [p for p in stray("lantern", alone, bridged, part).of_chokes if p.victim == "T2"]
    assert found.volts == pytest.approx(0.0, abs=1e-9)
    assert found.degrees is not None
