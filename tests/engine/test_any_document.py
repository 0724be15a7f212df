"""Whatever a document says: it is refused in a clear line, or reviewed whole; nothing crashes."""

from __future__ import annotations

import copy
import datetime
import json
import os
import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coldcheck.lint.engine.review import review_values
from coldcheck.lint.engine.study import Study
from coldcheck.lint.model import Review
from coldcheck.lint.read.errors import InputError
from coldcheck.lint.read.positions import Positions
from coldcheck.lint.read.project import load
from coldcheck.lint.read.toml import read_text
from coldcheck.schemas.document import Document
from documents import DEMOS, HEAD, STARTER, parsed

TODAY = datetime.date(2026, 1, 31)
BASES = [parsed(file) for file in (*DEMOS, STARTER)]
NOWHERE = Positions("")


def examples(count: int) -> settings:
    """The same examples every time where a gate runs; others at a desk."""
    return settings(
        max_examples=count,
        deadline=None,
        derandomize=bool(os.environ.get("CI")),
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )


QUANTITIES = (
    (
        "1k 4k7 1M 0.1u 47u 1n 450 V|6.3 V|1 mV|1e9 V|0.1 A|90 mA|1e-9 A|1/2 W|5 W|50 Hz|10 %|200 %|0 %"
        "|20 mm|3 in|18 AWG|30 degC|88 dB|10 H|1|0|-1 V|250-0-250 V|120+125|6 V"
    )
    .replace(" 4", "|4")
    .split("|")
)
WORDS = (
    (
        "0V B1 B2 chassis line neutral earth heater_a 1 2 3 PE L N + - V1.5 TB1.1 E1 J1.L R1 C1 V2 "
        "measured assumed film electrolytic paper aluminium wood own_screw resistor capacitor tube "
        "6V6GT 5Y3GT 12AX7 9X9 none"
    )
    .replace("_", " ")
    .split()
)
VALUES = st.one_of(
    st.sampled_from(QUANTITIES),
    st.sampled_from(WORDS),
    st.text(max_size=12),
    st.integers(-3, 50),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.lists(st.sampled_from(WORDS), max_size=4),
    st.lists(st.integers(-5, 400), max_size=3),
    st.dictionaries(st.sampled_from(WORDS), st.sampled_from(WORDS), max_size=3),
)


def tables(here: Any) -> Iterator[Any]:
    """Every table and list in a document, outermost first."""
    if isinstance(here, dict | list) and here:
        yield here
        for inner in here.values() if isinstance(here, dict) else here:
            yield from tables(inner)


def walk(draw: Any, here: Any) -> tuple[Any, Any]:
    """A table or list and a key in it: down from the top, so that chapters weigh alike."""
    while True:
        key = draw(st.sampled_from(list(here) if isinstance(here, dict) else range(len(here))))
        inner = here[key]
        if not (isinstance(inner, dict | list) and inner) or draw(st.integers(0, 3)) == 0:
            return here, key
        here = inner


@st.composite
def slips(draw: Any) -> dict[str, Any]:
    """A demo with a few slips of the pen in it."""
    document = copy.deepcopy(draw(st.sampled_from(BASES)))
    for _ in range(draw(st.integers(1, 3))):
        here, key = walk(draw, document)
        kind = draw(st.sampled_from(["drop", "value", "value", "swap", "rename", "twice"]))
        if kind == "drop":
            del here[key]
        elif kind == "value":
            here[key] = draw(VALUES)
        elif kind == "swap":
            other = draw(
                st.sampled_from(list(here) if isinstance(here, dict) else [*range(len(here))])
            )
            here[key], here[other] = here[other], here[key]
        elif isinstance(here, list):
            here.append(copy.deepcopy(here[key]))
        else:
            name = draw(st.sampled_from([*WORDS, "R99", "C99", "W99", f"{key}x"]))
            kept = here.pop(key) if kind == "rename" else copy.deepcopy(here[key])
            here[name] = kept
        if not document:
            break
    return document


def reviewed(raw: Mapping[str, Any]) -> Review | None:
    try:
        return review_values(raw, NOWHERE, "x", TODAY)
    except InputError as error:
        for trouble in error.troubles:
            assert "\n" not in trouble.text() and trouble.found and trouble.expected
        return None


@given(slips())
@examples(120)
def test_a_demo_with_slips_is_refused_or_reviewed_whole(raw: dict[str, Any]) -> None:
    review = reviewed(raw)
    assert review is None or review.crashes == ()


def mentions(value: Any, ref: str) -> bool:
    """Whether a tie point of the part, or a hole or wire of the name, is spoken of."""
    if isinstance(value, dict | list):
        inner = value.values() if isinstance(value, dict) else value
        return any(mentions(one, ref) for one in inner)
    return isinstance(value, str) and value.partition(".")[0] == ref


def without(document: dict[str, Any], ref: str) -> None:
    """Take a part, hole or wire out, with everything soldered to it."""
    for home in (document, document.get("channel", {})):
        for chapter in ("parts", "schematic", "leads", "layout", "wires", "holes", "sections"):
            table = home.get(chapter, {})
            table.pop(ref, None)
            if chapter in ("leads", "wires", "layout"):
                for name in [name for name, value in table.items() if mentions(value, ref)]:
                    del table[name]


@st.composite
def changes(draw: Any) -> dict[str, Any]:
    """A demo as a builder may change it: parts left out or joined elsewhere, values not given."""
    document = copy.deepcopy(draw(st.sampled_from(BASES)))
    document.pop("expect", None)
    homes = [document, *([document["channel"]] if "channel" in document else [])]
    for _ in range(draw(st.integers(1, 4))):
        home = draw(st.sampled_from(homes))
        kind = draw(st.sampled_from(["out", "out", "chapter", "value", "value", "net", "net"]))
        if kind == "out":
            chapter = draw(st.sampled_from([c for c in ("parts", "parts", "wires") if home.get(c)]))
            without(document, draw(st.sampled_from(sorted(home[chapter]))))
        elif kind == "chapter":
            for chapter in draw(
                st.sampled_from(["wires leads", "chassis", "layout", "source load", "schematic"])
            ).split():
                document.pop(chapter, None)
                document["site"].pop(chapter, None)
                document.get("channel", {}).pop(chapter, None)
        elif kind == "value":
            part = home["parts"][draw(st.sampled_from(sorted(home["parts"])))]
            at = draw(st.sampled_from([t for t in tables(part) if isinstance(t, dict)]))
            key = draw(st.sampled_from(sorted(at)))
            scaled = isinstance(at[key], str) and re.fullmatch(r"[0-9]+(.*)", at[key])
            if scaled and draw(st.booleans()):
                at[key] = draw(st.sampled_from(["1", "22", "999999"])) + scaled[1]
            elif key not in ("kind", "value", "voltage", "primary", "secondary"):
                del at[key]
        elif home.get("schematic"):
            spots = [t for t in tables(home["schematic"]) if t is not home["schematic"]]
            one, two = draw(st.sampled_from(spots)), draw(st.sampled_from(spots))
            keys = [draw(st.sampled_from(list(t) if isinstance(t, dict) else range(len(t))))
                    for t in (one, two)]  # fmt: skip
            if isinstance(one[keys[0]], str) and isinstance(two[keys[1]], str):
                one[keys[0]] = two[keys[1]]
        if not document["parts"] or any(not home["parts"] for home in homes):
            break
    return document


@given(changes())
@examples(35)
def test_a_changed_demo_is_refused_or_reviewed_whole(raw: dict[str, Any]) -> None:
    review = reviewed(raw)
    assert review is None or review.crashes == ()


NETS = st.sampled_from(["0V", "B1", "B2", "in", "out", "chassis", "x y"])


def _parts() -> st.SearchStrategy[tuple[str, dict[str, Any], Any]]:
    """A reference letter, a part, and its ends."""
    pair = st.lists(NETS, min_size=2, max_size=2)

    def of(letter: str, part: dict[str, Any], ends: Any) -> Any:
        return st.tuples(st.just(letter), st.just(part), ends)

    ohms = st.sampled_from(["1", "100", "4k7", "1M"])
    resistors = ohms.flatmap(lambda v: of("R", {"kind": "resistor", "value": v}, pair))
    capacitor = {"kind": "capacitor", "dielectric": "electrolytic", "value": "47u"}
    transformer = {
        "kind": "mains transformer",
        "primary": {"voltage": "230 V", "resistance": "30"},
        "windings": {"ht": {"voltage": "200 V", "current": "0.1 A", "resistance": "100"}},
    }
    windings = st.fixed_dictionaries({"primary": pair, "ht": pair})
    twin = {**transformer, "primary": {"voltage": "2 x 115 V", "resistance": "15+15"}}
    four = st.lists(NETS, min_size=4, max_size=4)
    twins = st.fixed_dictionaries({"primary": four, "ht": pair})
    pins = st.dictionaries(st.sampled_from("12345678"), NETS, max_size=8)
    types = st.sampled_from(["6J5", "12AX7", "6V6GT", "5Y3GT", "9X9"])
    return st.one_of(
        resistors,
        of("C", capacitor, pair),
        of("C", {**capacitor, "voltage": "450 V", "case": "bare can"}, pair),
        of("D", {"kind": "diode", "voltage": "1000 V"}, pair),
        of("D", {"kind": "led", "voltage": "2 V", "current": "20 mA"}, pair),
        of("D", {"kind": "zener", "voltage": "12 V"}, pair),
        of("L", {"kind": "choke", "inductance": "10 H", "resistance": "200"}, pair),
        of("F", {"kind": "fuse", "current": "1 A"}, pair),
        of("S", {"kind": "switch", "positions": {"on": ["1-2"], "off": []}}, pair),
        of("J", {"kind": "inlet"}, st.lists(NETS, min_size=3, max_size=3)),
        of("J", {"kind": "connector", "role": "loudspeaker", "contacts": ["+", "-"]}, pair),
        of("RV", {"kind": "potentiometer", "value": "50k"}, st.lists(NETS, min_size=3, max_size=3)),
        of("E", {"kind": "chassis bond"}, NETS),
        of("T", transformer, windings),
        of("T", twin, twins),
        of("RT", {"kind": "thermistor", "cold": "10", "hot": "0.5"}, pair),
        of("W", {"kind": "cord"}, st.lists(NETS, min_size=3, max_size=3)),
        of("G", {"kind": "voltage source", "voltage": "9 V", "resistance": "1"}, pair),
        types.flatmap(lambda t: of("V", {"kind": "tube", "type": t}, pins)),
    )


@st.composite
def circuits(draw: Any) -> dict[str, Any]:
    """A right document with a few parts joined at random."""
    raw = read_text(HEAD.encode(), "x")[0]
    raw["parts"], raw["schematic"] = {}, {}
    joined = draw(st.lists(_parts(), min_size=1, max_size=9))
    if draw(st.integers(0, 3)):  # most have something that feeds them
        inlet = ("J", {"kind": "inlet"}, draw(st.permutations(["B1", "B2", "in", "chassis"]))[:3])
        joined.append(inlet)
    for at, (letter, part, ends) in enumerate(joined):
        raw["parts"][f"{letter}{at}"] = part
        raw["schematic"][f"{letter}{at}"] = ends
    return raw


@given(circuits())
@examples(90)
def test_parts_joined_at_random_are_reviewed_whole(raw: dict[str, Any]) -> None:
    review = reviewed(raw)
    assert review is not None
    assert review.crashes == ()
    assert review.parts == len(raw["parts"])


# -- what must not matter ---------------------------------------------------------------------------


def renamed(here: Any, names: Mapping[str, str], path: tuple[Any, ...] = ()) -> Any:
    """A document whose nets have other names, wherever a net is named."""
    net_here = path[:1] == ("schematic",) or path[:2] in (
        ("channel", "schematic"),
        ("channel", "common"),
    )
    if isinstance(here, dict):
        renames = path == ("expect",)
        return {
            names.get(key, key) if renames else key: renamed(value, names, (*path, key))
            for key, value in here.items()
        }
    if isinstance(here, list):
        return [renamed(value, names, (*path, at)) for at, value in enumerate(here)]
    return names.get(here, here) if net_here and isinstance(here, str) else here


@pytest.mark.parametrize("base", BASES, ids=[file.stem for file in (*DEMOS, STARTER)])
def test_the_names_of_nets_do_not_matter(base: dict[str, Any]) -> None:
    """Findings stay as they are when every net but the chassis is called otherwise.

    New names sort the other way round, so that what is settled by alphabet would show.
    """
    plain = load(base, NOWHERE, "x").design
    written = sorted(_written_nets(base))
    names = {net: f"net {len(written) - at:03}" for at, net in enumerate(written)}
    other = renamed(base, names)
    design = load(other, NOWHERE, "x").design

    def new(net: str) -> str:
        stem, space, letter = net.rpartition(" ")
        return names.get(net) or (f"{names[stem]} {letter}" if space and stem in names else net)

    assert {new(net): ends for net, ends in plain.nets.items()} == design.nets

    def heard(raw: Mapping[str, Any]) -> list[tuple[str, str, str]]:
        review = reviewed(raw)
        assert review is not None
        every = (*review.findings, *review.opens, *review.passes)
        return sorted((f.rule, f.kind.value, f.about.name) for f in every if f.about.kind != "net")

    assert heard(other) == heard(base)


def _written_nets(raw: Mapping[str, Any]) -> set[str]:
    found: set[str] = set()
    waiting = [raw["schematic"], raw.get("channel", {}).get("schematic", {})]
    while waiting:
        here = waiting.pop()
        if isinstance(here, str):
            found.add(here)
        else:
            waiting += here.values() if isinstance(here, dict) else here
    return found - {"chassis"}


def reordered(here: Any, path: tuple[str, ...] = ()) -> Any:
    """Every table the other way round, except where the order is the meaning."""
    if isinstance(here, dict):
        keys = list(here) if path[-1:] == ("windings",) else list(reversed(here))
        return {key: reordered(here[key], (*path, key)) for key in keys}
    return here


@pytest.mark.parametrize("base", BASES, ids=[file.stem for file in (*DEMOS, STARTER)])
def test_the_order_of_tables_does_not_matter(base: dict[str, Any]) -> None:
    one, other = load(base, NOWHERE, "x").design, load(reordered(base), NOWHERE, "x").design
    assert list(one.nets.items()) == list(other.nets.items())
    assert list(one.parts) == list(other.parts)
    assert [dict(part.ends) for part in one.parts.values()] == [
        dict(part.ends) for part in other.parts.values()
    ]
    first, second = reviewed(base), reviewed(reordered(base))
    assert first is not None and second is not None
    assert [f.says for f in first.findings] == [f.says for f in second.findings]


@pytest.mark.parametrize("base", BASES, ids=[file.stem for file in (*DEMOS, STARTER)])
def test_values_survive_the_way_through_the_models_and_json(base: dict[str, Any]) -> None:
    """Every number the models hold is finite and comes back from JSON as it was."""
    document = Document.model_validate(base)
    text = document.model_dump_json()
    assert not re.search(r"\b(NaN|Infinity|null)\b", document.model_dump_json(exclude_none=True))
    assert json.loads(text) == json.loads(Document.model_validate(base).model_dump_json())
    assert json.loads(text) == document.model_dump(mode="json")
    parts = json.loads(text)["parts"]
    for ref, spec in document.parts.items():
        for name, value in spec:
            if isinstance(value, float):
                assert parts[ref][name] == value


def test_a_capacitor_between_two_grounds_is_judged() -> None:
    """Found by the test above: its share of what discharges with it came out as nothing."""
    raw = read_text(HEAD.encode(), "x")[0]
    capacitor = {"kind": "capacitor", "dielectric": "electrolytic", "value": "47u"}
    lift = {"kind": "resistor", "value": "10"}
    raw["parts"] = {"C0": capacitor, "C1": capacitor, "C2": capacitor, "R1": lift}
    raw["parts"]["J3"] = {"kind": "inlet"}
    raw["schematic"] = {
        "C0": ["0V", "B1"],
        "C1": ["B2", "in"],
        "C2": ["in", "0V"],
        "R1": ["in", "0V"],
        "J3": ["B1", "B2", "chassis"],
    }
    review = reviewed(raw)
    assert review is not None and review.crashes == ()
    design = load(raw, NOWHERE, "x").design
    off = Study(design).get("OffStates")
    (held,) = [held for held in off.capacitors if held.part.ref == "C2"]
    assert held.farads(held.states[0]) == pytest.approx(47e-6)
