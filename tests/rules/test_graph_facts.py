"""Facts of the graphs against geometry and hand-drawn cases."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.passages import bundle_diameter
from coldcheck.lint.facts.signal_ground import vector_area
from coldcheck.lint.read.positions import Positions
from coldcheck.lint.read.project import load
from coldcheck.schemas.reference import tube, tube_names
from scenes import written


def _pins(type_name: str) -> bool:
    """Whether the library knows the base of a type; of a few it does not."""
    kind = tube(type_name)
    return kind is not None and bool(kind.pins)


DIAMETERS = st.lists(st.floats(0.5e-3, 5e-3), min_size=1, max_size=25)


def study(base: str, without: tuple[str, ...] = (), **put: Any) -> Study:
    from coldcheck.lint.engine.stories import Scene

    raw = Scene("", "", base, without, {k.replace("__", "."): v for k, v in put.items()}).apply(
        written(base)[0]
    )
    return Study(load(raw, Positions(""), base).design)


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
def test_a_ring_of_equal_wires_has_its_exact_bundle(count: int) -> None:
    # centres on a regular polygon of side d: circle of 1 + 1 / sin(pi / n) diameters
    exact = 1.0 + 1.0 / math.sin(math.pi / count)
    assert bundle_diameter([1e-3] * count) == pytest.approx(exact * 1e-3, rel=4e-4)


def test_seven_equal_wires_are_three_across() -> None:
    assert bundle_diameter([2.0] * 7) == pytest.approx(6.0)


@given(DIAMETERS)
def test_a_bundle_holds_its_wires(diameters: list[float]) -> None:
    around = bundle_diameter(diameters)
    assert around >= max(diameters)
    assert around >= sum(sorted(diameters)[-2:]) * (1 - 1e-12)
    # round wires never fill the circle, and no packing is denser than the hexagonal one
    filled = sum(d * d for d in diameters) / around**2
    assert filled <= (1.0 if len(diameters) == 1 else math.pi / math.sqrt(12.0)) + 1e-9


@given(st.floats(-3.0, 3.0), st.floats(0.01, 1.0), st.floats(0.01, 1.0))
def test_the_area_of_a_tilted_rectangle(angle: float, width: float, height: float) -> None:
    c, s = math.cos(angle), math.sin(angle)
    flat = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    corners = [(x, y * c, y * s) for x, y in flat]
    assert vector_area(corners) == pytest.approx(width * height)


def test_a_figure_of_eight_links_nothing() -> None:
    assert vector_area([(0, 0, 0), (1, 1, 0), (1, 0, 0), (0, 1, 0)]) == pytest.approx(0.0)


def test_the_loop_through_a_bare_jack() -> None:
    """J2, RV1, bus, E2, chassis: the area by hand from the places in the document."""
    ground = study("lantern", parts__J2__insulated=False).get("SignalGround")
    (loop,) = ground.loops
    names = {link.name for link in loop.links}
    assert names == {"J2.sleeve mounting", "W23", "W25", "W26", "E2.lug bond"}
    # x, y, z in mm: J2 on the right wall, RV1 on the front, the bus and E2 under the top
    corners = [(320, 40, 30), (290, 0, 30), (100 + 5 * 40, 40, 60), (300, 40, 60)]
    by_hand = _triangles([(x / 1e3, y / 1e3, z / 1e3) for x, y, z in corners])
    assert loop.area == pytest.approx(by_hand)
    assert loop.weakest.name == "J2.sleeve mounting"


def _triangles(p: list[tuple[float, float, float]]) -> float:
    """Area vector of a ring as the sum of triangles fanned out from its first corner."""
    total = [0.0, 0.0, 0.0]
    for b, c in itertools.pairwise(p[1:]):
        u = [b[i] - p[0][i] for i in range(3)]
        v = [c[i] - p[0][i] for i in range(3)]
        for i in range(3):
            total[i] += 0.5 * (u[(i + 1) % 3] * v[(i + 2) % 3] - u[(i + 2) % 3] * v[(i + 1) % 3])
    return math.hypot(*total)


def test_protective_earth_is_never_the_link_to_take_out() -> None:
    ground = study(
        "lantern",
        wires__W27={"run": ["XB1.1", "E1"], "type": "hookup", "length": "60 mm"},
        parts__TB1__mounting=[],
    ).get("SignalGround")
    for loop in ground.loops:
        assert loop.weakest.name not in ("W6", "E1.lug bond")
    assert ground.loops


def test_wood_joins_nothing() -> None:
    wiring = study("lantern", chassis__material="wood").get("Wiring")
    assert wiring.group_of("T1.frame") == {"T1.frame"}
    metal = study("lantern").get("Wiring")
    assert "chassis" in metal.group_of("T1.frame")


def test_what_a_high_winding_feeds_is_live() -> None:
    passages = study("lantern").get("Passages")
    live = {c.name for hole in passages.holes for c in hole.conductors if c.live}
    mains = {c.name for hole in passages.holes for c in hole.conductors if c.mains}
    assert mains == {"T1 primary.1 lead", "T1 primary.2 lead"}
    assert mains < live
    assert {"T1 ht.1 lead", "T1 rect.1 lead", "L1 1 lead", "T2 primary.1 lead"} <= live
    assert not {"T1 ht.ct lead", "T1 heater.1 lead", "T2 secondary.8 lead"} & live


@pytest.mark.parametrize("type_name", [name for name in tube_names() if _pins(name)])
def test_every_electrode_of_every_type_has_its_net(type_name: str) -> None:
    """A tube with each pin on a net of its own: no electrode is open, none shares another's."""
    kind = tube(type_name)
    assert kind is not None
    pins = {str(pin): f"pin {pin}" for pin, name in kind.pins.items() if name not in ("nc", "ic")}
    schematic = study(
        "lantern", parts__V9={"kind": "tube", "type": type_name}, schematic__V9=pins
    ).get("Schematic")
    electrodes = schematic.electrodes(schematic.design.parts["V9"])
    assert electrodes and all(e.net is not None for e in electrodes)
    for section in kind.sections:
        own = [e.net for e in electrodes if e.section == section.number]
        assert len(own) == len(set(own)) == len(section.electrodes)
    # a current through every section: two nets at least, the filament's where it is the cathode
    assert all(len(s.nets) > 1 for s in schematic.of("V9"))


@pytest.mark.parametrize("pin", ["1", "7"])
def test_any_pin_of_an_electrode_will_do(pin: str) -> None:
    """The grid of a 6AQ5A is on pins 1 and 7."""
    schematic = study(
        "lantern",
        parts__V9={"kind": "tube", "type": "6AQ5A"},
        schematic__V9={pin: "g", "2": "k", "5": "p", "6": "s"},
    ).get("Schematic")
    nets = {e.name: e.net for e in schematic.electrodes(schematic.design.parts["V9"])}
    assert nets == {"grid": "g", "cathode": "k", "plate": "p", "screen": "s"}


def test_a_way_is_chosen_by_parts() -> None:
    schematic = study("lantern").get("Schematic")
    way = schematic.path("B1", "0V", lambda section: section.body.value == "resistor")
    assert [getattr(step, "ref", step) for step in way] == ["B1", "R1", "0V"]
    assert schematic.path("B1", "nowhere", lambda section: True) == ()


def test_diodes_list_their_anode_first() -> None:
    bridge = {"kind": "bridge", "voltage": "200 V", "current": "25 A"}
    schematic = study(
        "lantern",
        parts__D20=bridge,
        schematic__D20={"ac1": "p", "ac2": "q", "+": "plus", "-": "minus"},
    ).get("Schematic")
    forward = {section.nets for section in schematic.of("D20")}
    assert forward == {("p", "plus"), ("q", "plus"), ("minus", "p"), ("minus", "q")}
