"""Transformers and chokes as the netlist writes them: which coils, how many turns, which way round."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest

from coldcheck.lint.model import Basis, Missing
from coldcheck.lint.netlist import Netlist, Setting, netlist
from coldcheck.lint.physics.circuit import Coil, Element, Inductor, Resistor, Transformer
from coldcheck.lint.physics.supply import periodic_state
from coldcheck.schemas.reference import fact
from documents import design

HEATER = 'windings.heater = { voltage = "6.3 V", resistance = "0.1", no_load = "6.6 V", current = "2 A" }'
SUPPLY = """
J1 = { kind = "inlet" }
E1 = { kind = "chassis bond" }
R1 = { kind = "resistor", value = "6.6" }
[schematic]
J1 = ["line", "neutral", "earth"]
E1 = "earth"
"""


def written(primary: str, nets: str, setting: Setting, more: str = "") -> Netlist:
    """A transformer with one heater winding on R1, its primary as given and joined as given."""
    body = (
        f'[parts]\nT1 = {{ kind = "mains transformer", primary = {{ {primary} }}, {HEATER}{more} }}'
    )
    ends = f'R1 = ["h", "earth"]\nT1 = {{ {nets}, heater = ["h", "earth"] }}\n'
    return netlist(design(body + SUPPLY + ends), setting)


def transformer(found: Netlist, name: str = "T1") -> Transformer:
    (one,) = [e for e in found.circuit.elements if isinstance(e, Transformer) and e.name == name]
    return one


def coils(found: Netlist, name: str = "T1") -> list[Coil]:
    return list(transformer(found, name).coils)


def by_name(found: Netlist) -> Mapping[str, Element]:
    return {element.name: element for element in found.circuit.elements}


TWIN = 'voltage = "2 x 115 V", resistance = "8+9"'
ON_230, ON_115 = Setting(230.0), Setting(115.0)


def heater_volts(found: Netlist) -> float:
    solved = periodic_state(found.circuit)
    return float(max(abs(solved.volts("h") - solved.volts("earth")))) / math.sqrt(2.0)


def test_two_primaries_in_series_are_two_coils_in_series() -> None:
    found = written(TWIN, 'primary = ["line", "mid", "mid", "neutral"]', ON_230)
    assert coils(found)[:2] == [
        Coil("T1.primary.1", "line", "mid", 115.0, 8.0),
        Coil("T1.primary.2", "mid", "neutral", 115.0, 9.0),
    ]
    # one ampere flows: E = 6.6 V less 0.1 ohm and what 17 ohm at (6.6 / 230)^2 come to
    assert heater_volts(found) == pytest.approx(
        6.6 * 6.6 / (6.6 + 0.1 + 17.0 * (6.6 / 230.0) ** 2), rel=2e-3
    )


def test_two_primaries_in_parallel_give_the_same_from_half_the_mains() -> None:
    twin = TWIN.replace("8+9", "8+8")
    series = written(twin, 'primary = ["line", "mid", "mid", "neutral"]', ON_230)
    parallel = written(twin, 'primary = ["line", "neutral", "line", "neutral"]', ON_115)
    assert heater_volts(parallel) == pytest.approx(heater_volts(series), rel=1e-6)


def test_primaries_the_wrong_way_round_are_a_short() -> None:
    found = written(TWIN, 'primary = ["line", "neutral", "neutral", "line"]', ON_115)
    solved = periodic_state(found.circuit)
    amperes = max(abs(solved.amperes("T1.primary.1"))) / math.sqrt(2.0)
    # both drive the core against one another: what is left is 115 V across 8 ohm and 9 ohm
    assert amperes == pytest.approx(115.0 / 8.5, rel=0.01)
    assert heater_volts(found) < 0.5


def test_a_primary_that_is_shorted_stays_in_the_circuit() -> None:
    found = written(TWIN, 'primary = ["line", "neutral", "spare", "spare"]', ON_115)
    assert coils(found)[1] == Coil("T1.primary.2", "spare", "spare", 115.0, 9.0)


def test_a_tap_in_use_leaves_out_the_turns_beyond_it() -> None:
    tapped = 'voltage = "0-115-230 V", resistance = "7+8"'
    ends = '"primary.0" = "neutral", "primary.115" = "line"'
    assert coils(written(tapped, ends, ON_115))[0] == Coil(
        "T1.primary.1", "neutral", "line", 115.0, 7.0
    )
    whole = '"primary.0" = "neutral", "primary.230" = "line"'
    assert coils(written(tapped, whole, ON_230))[:2] == [
        Coil("T1.primary.1", "neutral", "T1:primary tap 115", 115.0, 7.0),
        Coil("T1.primary.2", "T1:primary tap 115", "line", 115.0, 8.0),
    ]


def test_taps_of_a_secondary_are_coils_from_tap_to_tap() -> None:
    bias = (
        ', windings.ht = { voltage = "275-50-0-275 V", resistance = "70+20+95", '
        'no_load = "290-53-0-290 V", current = "0.1 A" }'
    )
    ends = 'primary = ["line", "neutral"], "ht.1" = "a", "ht.50a" = "b", "ht.ct" = "earth"'
    found = written('voltage = "230 V", resistance = "20"', ends, ON_230, bias)
    assert coils(found)[2:] == [
        Coil("T1.ht.1", "a", "b", 237.0, 70.0),
        Coil("T1.ht.2", "b", "earth", 53.0, 20.0),
    ]


def test_no_load_volts_of_taps_are_worked_out_from_the_nameplate() -> None:
    """By hand: 60 VA through 20 ohm at 230 V loses 60 * 20 / 230^2 of it."""
    plain = ', windings.lamp = { voltage = "0-5-6.3 V", resistance = "0.1+0.05", current = "1 A" }'
    rated = f'{plain}, rating = "60 VA"'
    ends = 'primary = ["line", "neutral"], lamp = ["earth", "c", "d"]'
    found = written('voltage = "230 V", resistance = "20"', ends, ON_230, rated)
    share = 1.0 - 60.0 * 20.0 / 230.0**2
    turns = [coil.turns for coil in coils(found)[2:]]
    assert turns == pytest.approx([5.1 / share, 1.35 / share])


def test_without_mains_a_winding_is_its_resistance() -> None:
    found = written(TWIN, 'primary = ["line", "mid", "mid", "neutral"]', Setting(None))
    kept = [e for e in found.circuit.elements if e.name.startswith("T1")]
    assert kept == [Resistor("T1.heater", "h", "earth", 0.1)]


# -- iron -------------------------------------------------------------------------------------------

WHOLE = 'primary = ["line", "neutral"]'


def test_iron_is_written_only_when_asked_for() -> None:
    plain = 'voltage = "230 V", resistance = "20", idle_current = "50 mA"'
    found = written(plain, WHOLE, ON_230)
    assert transformer(found).magnetising is None
    assert transformer(found).saturation is None
    assert found.core_data == ()


def test_idle_current_gives_the_magnetising_inductance() -> None:
    """L = V / (2 pi f I): 230 V, 50 Hz and 50 mA are 14.64 H."""
    plain = 'voltage = "230 V", resistance = "20", idle_current = "50 mA"'
    found = written(plain, WHOLE, ON_230._replace(core=True), ', rating = "60 VA"')
    iron = transformer(found)
    assert iron.magnetising == pytest.approx(14.642, rel=1e-4)
    assert iron.saturation is not None
    assert iron.saturation.amperes == pytest.approx(1.25 * math.sqrt(2.0) * 0.05)
    assert iron.saturation.henries < 0.1 * iron.magnetising
    assert "no-load current of T1" not in [datum.what for datum in found.core_data]
    assert all(datum.basis.weak for datum in found.core_data)
    assert not [d for d in found.data if "T1" in d.what and d.basis.weak]


def test_iron_that_is_not_measured_is_assumed_and_says_so() -> None:
    found = written(
        'voltage = "230 V", resistance = "20"',
        WHOLE,
        ON_230._replace(core=True),
        ', rating = "60 VA"',
    )
    assert ("no-load current of T1", Basis.ASSUMED) in found.core_data
    assert found.data == written('voltage = "230 V", resistance = "20"', WHOLE, ON_230).data


def test_iron_seen_at_one_primary_of_two_is_the_iron_of_both() -> None:
    """In series each coil has half the turns of the whole, so a quarter of its inductance."""
    twin = f'{TWIN}, idle_current = "100 mA"'
    core = ON_230._replace(core=True)
    found = written(twin, 'primary = ["line", "mid", "mid", "neutral"]', core, ', rating = "60 VA"')
    one = 'voltage = "230 V", resistance = "17", idle_current = "50 mA"'
    whole = written(one, WHOLE, core, ', rating = "60 VA"')
    iron, other = transformer(found), transformer(whole)
    assert iron.magnetising is not None and other.magnetising is not None
    assert iron.saturation is not None and other.saturation is not None
    assert 4.0 * iron.magnetising == pytest.approx(other.magnetising)
    assert 0.5 * iron.saturation.amperes == pytest.approx(other.saturation.amperes)
    assert 4.0 * iron.saturation.henries == pytest.approx(other.saturation.henries)


def test_the_rating_is_missed_where_it_decides() -> None:
    setting = ON_230._replace(core=True)
    bare = HEATER.replace(', current = "2 A"', "")
    body = (
        '[parts]\nT1 = { kind = "mains transformer", primary = { voltage = "230 V", resistance = '
        f'"20" }}, {bare} }}'
    )
    ends = f'R1 = ["h", "earth"]\nT1 = {{ {WHOLE}, heater = ["h", "earth"] }}\n'
    with pytest.raises(Missing, match="VA of T1") as caught:
        netlist(design(body + SUPPLY + ends), setting)
    assert caught.value.where == ("parts", "T1", "rating")


@pytest.mark.parametrize("core", ["E-I", "toroid"])
def test_assumed_iron_draws_at_worst_what_makers_tell_of_the_first_cycle(core: str) -> None:
    """The first half cycle from the flux a core is left with, against the library's range.

    All the mains can add to a core's flux is twice its peak; past the knee it meets only what is
    left of the inductance: i = (2 + left - knee) sqrt(2) V / X, copper left out.
    """
    found = written(
        'voltage = "230 V", resistance = "20"',
        WHOLE,
        ON_230._replace(core=True),
        f', rating = "60 VA", core = "{core}"',
    )
    iron = transformer(found)
    assert iron.magnetising is not None and iron.saturation is not None
    omega = 2.0 * math.pi * 50.0
    peak = math.sqrt(2.0) * 230.0 / omega  # of the flux, in volt seconds
    knee = iron.saturation.amperes * iron.magnetising
    left = {"E-I": 0.5, "toroid": 0.7}[core]
    surge = ((2.0 + left) * peak - knee) / iron.saturation.henries
    kind = {"E-I": "laminated", "toroid": "toroid"}[core]
    least, most = (fact("fuses", f"{kind}_inrush_{end}_ratio").value for end in ("least", "most"))
    assert least <= surge / (60.0 / 230.0) <= most


# -- chokes and output transformers -----------------------------------------------------------------


def test_a_choke_saturates_only_where_the_document_says_so() -> None:
    body = """[parts]
L1 = { kind = "choke", inductance = "10 H", resistance = "200" }
L2 = { kind = "choke", inductance = "10 H", resistance = "200", current = "90 mA", saturation = "150 mA" }
G1 = { kind = "voltage source", voltage = "9 V", resistance = "1" }
[schematic]
L1 = ["B1", "B2"]
L2 = ["B2", "0V"]
G1 = ["B1", "0V"]
"""
    found = netlist(design(body), Setting(230.0))
    plain, bending = by_name(found)["L1"], by_name(found)["L2"]
    assert isinstance(plain, Inductor) and isinstance(bending, Inductor)
    assert plain.saturation is None
    bend = bending.saturation
    assert bend is not None and bend.amperes == 0.15
    # in the middle of a rounded bend half of the slope to come is there: half the inductance
    assert 1.0 + 0.5 * (bending.henries / bend.henries - 1.0) == pytest.approx(2.0)
    assert [datum.what for datum in found.core_data] == [
        "inductance L2 has left past its saturation"
    ]
    assert found.data == ()


OUTPUT = """[parts]
T2 = {{ kind = "output transformer", {options}primary = {{ impedance = "6400", resistance = "{ohms}", inductance = "20 H"{more} }}, secondary = {{ taps = ["0", "4", "16"], resistance = "0.6" }} }}
G1 = {{ kind = "voltage source", voltage = "300 V", resistance = "1" }}
R1 = {{ kind = "resistor", value = "16" }}
[schematic]
G1 = ["B1", "0V"]
R1 = ["out", "0V"]
T2 = {{ primary = {nets}, "secondary.0" = "0V", "secondary.16" = "out" }}
"""


def output(options: str, ohms: str, more: str, nets: str) -> Netlist:
    body = OUTPUT.format(options=options, ohms=ohms, more=more, nets=nets)
    return netlist(design(body), Setting(230.0))


def test_an_output_transformer_without_taps_is_as_ever() -> None:
    found = output("centre_tap = true, ", "120+130", "", '["a", "B1", "b"]')
    assert coils(found, "T2")[:2] == [
        Coil("T2.primary.1", "a", "B1", 40.0, 120.0),
        Coil("T2.primary.2", "B1", "b", 40.0, 130.0),
    ]
    assert [(c.name, c.turns) for c in coils(found, "T2")[2:]] == [
        ("T2.secondary.4", 2.0),
        ("T2.secondary.16", 2.0),
    ]
    assert transformer(found, "T2").magnetising == 5.0


def test_screen_taps_part_each_half_from_the_centre_tap() -> None:
    options, more = "centre_tap = true, ", ', screen_taps = "40 %"'
    found = output(options, "120+130", more, '["a", "s", "B1", "t", "b"]')
    halves = coils(found, "T2")[:4]
    assert [coil[:3] for coil in halves] == [
        ("T2.primary.1", "a", "s"),
        ("T2.primary.1.ul", "s", "B1"),
        ("T2.primary.2", "t", "b"),
        ("T2.primary.2.ul", "B1", "t"),
    ]
    assert [coil.turns for coil in halves] == pytest.approx([24.0, 16.0, 24.0, 16.0])
    assert [coil.ohms for coil in halves] == pytest.approx([72.0, 48.0, 78.0, 52.0])
    # 20 H at 80 turns, seen at 24
    assert transformer(found, "T2").magnetising == pytest.approx(20.0 * (24.0 / 80.0) ** 2)


def test_idle_screen_taps_part_nothing() -> None:
    options, more = "centre_tap = true, ", ', screen_taps = "40 %"'
    nets = '["a", "s", "B1", "t", "b"]'
    body = OUTPUT.format(options=options, ohms="120+130", more=more, nets=nets)
    idle = body.replace(
        f"primary = {nets}", '"primary.1" = "a", "primary.ct" = "B1", "primary.2" = "b"'
    )
    found = netlist(design(idle), Setting(230.0))
    assert (
        coils(found, "T2")[:2]
        == coils(output(options, "120+130", "", '["a", "B1", "b"]'), "T2")[:2]
    )


def test_a_single_ended_screen_tap_counts_from_the_supply() -> None:
    found = output("", "250", ', screen_taps = "40 %"', '["plate", "screen", "B1"]')
    assert coils(found, "T2")[:2] == [
        Coil("T2.primary", "plate", "screen", pytest.approx(48.0), pytest.approx(150.0)),
        Coil("T2.primary.ul", "screen", "B1", pytest.approx(32.0), pytest.approx(100.0)),
    ]


def test_leakage_stands_before_the_plates() -> None:
    found = output("centre_tap = true, ", "120+130", ', leakage = "20 mH"', '["a", "B1", "b"]')
    elements = by_name(found)
    assert elements["T2.primary.1.leakage"] == Inductor(
        "T2.primary.1.leakage", "a", "T2:primary 1", 0.01, 0.0
    )
    assert elements["T2.primary.2.leakage"] == Inductor(
        "T2.primary.2.leakage", "b", "T2:primary 2", 0.01, 0.0
    )
    assert [coil[:3] for coil in coils(found, "T2")[:2]] == [
        ("T2.primary.1", "T2:primary 1", "B1"),
        ("T2.primary.2", "B1", "T2:primary 2"),
    ]
    single = output("", "250", ', leakage = "20 mH"', '["plate", "B1"]')
    leak = by_name(single)["T2.primary.leakage"]
    assert isinstance(leak, Inductor) and leak.henries == 0.02
