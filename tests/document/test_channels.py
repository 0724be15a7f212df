"""A channel written once and used twice is the same design as one copied out by hand."""

from __future__ import annotations

import networkx as nx
import pytest

from coldcheck.lint.design import Design
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.graphs.wiring import Wiring
from coldcheck.lint.netlist import Setting, netlist
from documents import ROOT, design, messages, parsed

SHARED = """
[parts]
V1 = { kind = "tube", type = "6CG7" }
R1 = { kind = "resistor", value = "2k2" }
C1 = { kind = "capacitor", dielectric = "electrolytic", value = "47u" }
TB1 = { kind = "terminal strip", lugs = 4 }
[schematic]
R1 = ["B1", "B2"]
C1 = ["B2", "0V"]
"""
ONCE = (
    SHARED
    + """
V1 = { 4 = "heater", 5 = "0V" }
[leads]
R1 = ["TB1.1", "TB1.2"]
[wire_types]
thin = { size = "22 AWG" }
[wires]
W1 = { run = ["TB1.2", "TB2L.1", "TB2R.1"], type = "thin" }
[channel]
names = ["L", "R"]
common = ["B2", "0V"]
sections = { V1 = { L = 1, R = 2 } }
[channel.parts]
R2 = { kind = "resistor", value = "47k" }
R3 = { kind = "resistor", value = "1k" }
R4 = { kind = "resistor", value = "470k" }
TB2 = { kind = "terminal strip", lugs = 3 }
[channel.schematic]
V1 = { plate = "plate", grid = "grid", cathode = "cathode" }
R2 = ["B2", "plate"]
R3 = ["cathode", "0V"]
R4 = ["grid", "0V"]
[channel.leads]
R2 = ["TB2.1", "V1.plate"]
R3 = ["V1.cathode", "TB2.2"]
[channel.wires]
W2 = { run = ["V1.grid", "TB2.3"], type = "thin", twist = "W3" }
W3 = { run = ["TB2.2", "TB1.4"], type = "thin", twist = "W2" }
"""
)
BY_HAND = (
    SHARED
    + """
V1 = { 1 = "p two", 2 = "g two", 3 = "k two", 4 = "heater", 5 = "0V", 6 = "p one", 7 = "g one", 8 = "k one" }
R21 = ["B2", "p one"]
R31 = ["k one", "0V"]
R41 = ["g one", "0V"]
R22 = ["B2", "p two"]
R32 = ["k two", "0V"]
R42 = ["g two", "0V"]
[parts.R21]
kind = "resistor"
value = "47k"
[parts.R31]
kind = "resistor"
value = "1k"
[parts.R41]
kind = "resistor"
value = "470k"
[parts.R22]
kind = "resistor"
value = "47k"
[parts.R32]
kind = "resistor"
value = "1k"
[parts.R42]
kind = "resistor"
value = "470k"
[parts.TB21]
kind = "terminal strip"
lugs = 3
[parts.TB22]
kind = "terminal strip"
lugs = 3
[leads]
R1 = ["TB1.1", "TB1.2"]
R21 = ["TB21.1", "V1.6"]
R31 = ["V1.8", "TB21.2"]
R22 = ["TB22.1", "V1.1"]
R32 = ["V1.3", "TB22.2"]
[wire_types]
thin = { size = "22 AWG" }
[wires]
W1 = { run = ["TB1.2", "TB21.1", "TB22.1"], type = "thin" }
W21 = { run = ["V1.7", "TB21.3"], type = "thin", twist = "W31" }
W31 = { run = ["TB21.2", "TB1.4"], type = "thin", twist = "W21" }
W22 = { run = ["V1.2", "TB22.3"], type = "thin", twist = "W32" }
W32 = { run = ["TB22.2", "TB1.4"], type = "thin", twist = "W22" }
"""
)


def labelled(made: Design) -> nx.Graph:  # type: ignore[type-arg]
    """The schematic graph with what each node is, names left out."""
    schematic = Schematic(made)
    graph = nx.Graph(schematic.graph)
    for node in graph:
        kind, ref = node
        what = ""
        if kind == "part":
            section = schematic.sections[ref]
            spec = made.parts[section.part].spec
            what = f"{section.body.value} {getattr(spec, 'value', '')}"
        graph.nodes[node]["what"] = (kind, what)
    return graph


def same(a: nx.Graph, b: nx.Graph) -> bool:  # type: ignore[type-arg]
    return nx.is_isomorphic(a, b, node_match=lambda x, y: x == y)


def test_once_and_by_hand_are_the_same_schematic() -> None:
    once, by_hand = labelled(design(ONCE)), labelled(design(BY_HAND))
    assert once.number_of_edges() == 24
    assert same(once, by_hand)


def test_a_changed_value_is_not_the_same_schematic() -> None:
    other = BY_HAND.replace(
        '[parts.R31]\nkind = "resistor"\nvalue = "1k"',
        '[parts.R31]\nkind = "resistor"\nvalue = "1k2"',
    )
    assert other != BY_HAND
    assert not same(labelled(design(ONCE)), labelled(design(other)))


def test_once_and_by_hand_are_the_same_wiring() -> None:
    once, by_hand = Wiring(design(ONCE)), Wiring(design(BY_HAND))
    assert len(once.links) == 16
    assert nx.is_isomorphic(once.graph, by_hand.graph)
    size = lambda wiring: sorted(len(group) for group in wiring.joined())  # noqa: E731
    assert size(once) == size(by_hand)


def test_once_and_by_hand_are_the_same_circuit() -> None:
    setting = Setting(mains_volts=None)  # the piece has no inlet

    def values(body: str) -> list[tuple[str, str]]:
        elements = netlist(design(body), setting).circuit.elements
        return sorted(
            (
                type(element).__name__,
                repr(getattr(element, "ohms", getattr(element, "farads", ""))),
            )
            for element in elements
        )

    assert values(ONCE) == values(BY_HAND)
    assert ("Resistor", "47000.0") in values(ONCE)


def test_private_nets_take_the_letter_and_common_ones_do_not() -> None:
    made = design(ONCE)
    assert list(made.nets) == [
        "0V", "B1", "B2", "cathode L", "cathode R", "grid L", "grid R", "heater", "plate L",
        "plate R",
    ]  # fmt: skip
    assert made.nets["plate R"] == (("R2R", "2"), ("V1", "1"))
    assert made.nets["B2"] == (("C1", "+"), ("R1", "2"), ("R2L", "1"), ("R2R", "1"))


def test_each_channel_takes_its_section_of_a_shared_tube() -> None:
    made = design(ONCE)
    assert made.parts["V1"].ends == {
        "1": "plate R", "2": "grid R", "3": "cathode R", "4": "heater", "5": "0V",
        "6": "plate L", "7": "grid L", "8": "cathode L",
    }  # fmt: skip


def test_parts_in_a_channel_point_back_to_where_they_are_written() -> None:
    part = design(ONCE).parts["R2R"]
    assert part.path == ("channel", "parts", "R2")
    assert part.ends_path == ("channel", "schematic", "R2")
    assert design(ONCE).parts["V1"].ends_path == ("schematic", "V1")


def test_a_shared_tube_wired_only_in_the_channel_points_there() -> None:
    made = design(ONCE.replace('V1 = { 4 = "heater", 5 = "0V" }\n', ""))
    assert made.parts["V1"].ends_path == ("channel", "schematic", "V1")


def test_leads_and_wires_of_a_channel_go_to_its_own_points() -> None:
    made = design(ONCE)
    assert made.parts["R2L"].leads == {"1": "TB2L.1", "2": "V1.6"}
    assert made.parts["R2R"].leads == {"1": "TB2R.1", "2": "V1.1"}
    assert made.wires["W2R"].run == ("V1.2", "TB2R.3")
    assert made.wires["W3L"].run == ("TB2L.2", "TB1.4")
    assert (made.wires["W2L"].twist, made.wires["W2R"].twist) == ("W3L", "W3R")


def test_the_chassis_is_common_to_all_channels() -> None:
    made = design(
        '[parts]\nE1 = { kind = "chassis bond" }\n[channel]\nnames = ["L", "R"]\n'
        '[channel.parts]\nR1 = { kind = "resistor", value = "1k" }\n'
        '[channel.schematic]\nR1 = ["in", "chassis"]\n'
    )
    assert made.nets["chassis"] == (("E1", "chassis"), ("R1L", "2"), ("R1R", "2"))


def test_the_shipped_stereo_demo_has_like_channels() -> None:
    """The two channels of the demo are isomorphic, part for part."""
    raw = parsed(ROOT / "projects" / "heron.toml")
    names = raw["channel"]["names"]
    made = design((ROOT / "projects" / "heron.toml").read_text("utf-8"), head="")
    nets = [{net for net in made.nets if net.endswith(f" {letter}")} for letter in names]
    assert len(nets[0]) == len(nets[1]) == 10
    left, right = (
        {ref: part for ref, part in made.parts.items() if ref.endswith(letter)} for letter in names
    )
    assert [part.spec for part in left.values()] == [part.spec for part in right.values()]


CHANNEL = """[parts]
R1 = { kind = "resistor", value = "1k" }
V1 = { kind = "tube", type = "6CG7" }
TB1 = { kind = "terminal strip", lugs = 2 }
[schematic]
R1 = ["B1", "0V"]
[wire_types]
thin = { size = "22 AWG" }
"""
NAMES = '[channel]\nnames = ["L", "R"]\n'
R2 = '[channel.parts]\nR2 = { kind = "resistor", value = "1k" }\n'

WRONG = [
    ('[channel]\nnames = @["L"]\n', "names = a list of 1", "at least 2 entries"),
    (
        '[channel]\nnames = ["L", @"left"]\n',
        'entry 2 of names = "left"',
        'a single letter, such as "L"',
    ),
    (
        '[channel]\nnames = @["L", "l"]\n',
        "names = a list of 2",
        "letters that differ by more than their capitals",
    ),
    (
        NAMES + '[channel.parts]\n@R2L = { kind = "resistor", value = "1k" }\n',
        'the name "R2L"',
        "a reference without a letter at its end, such as R4: each channel adds its own",
    ),
    (
        '[parts.R2R]\nkind = "resistor"\nvalue = "1k"\n' + NAMES + R2.replace("R2 =", "@R2 ="),
        "R2, which makes R2R, and R2R is there already",
        "a reference that is free in every channel",
    ),
    (
        '[wires]\nW1R = { run = ["TB1.1", "TB1.2"], type = "thin" }\n' + NAMES
        + '[channel.wires]\n@W1 = { run = ["TB1.1", "TB1.2"], type = "thin" }\n',
        "W1, which makes W1R, and W1R is there already",
        "a reference that is free in every channel",
    ),
    (
        NAMES + 'common = [@"B9"]\n' + R2 + '[channel.schematic]\nR2 = ["B1 x", "g"]\n',
        '"B9"',
        "a net that [channel.schematic] uses",
    ),
    (
        NAMES + R2 + '[channel.schematic]\nR2 = ["g", @"0V"]\n',
        '"0V" in the channel, and a net of that name in [schematic]',
        "it in channel.common when they are one net, or another name",
    ),
    (
        NAMES + '[channel.schematic]\n@V1 = { plate = "p" }\n',
        "V1 in channel L, but it is one part for all channels",
        "V1 in [channel.parts], or its section in channel.sections.V1",
    ),
    (
        NAMES + 'sections = { V1 = { L = 1, R = @3 } }\n',
        "section 3 of V1",
        "one of 1, 2",
    ),
    (
        NAMES + 'sections = { V1 = { L = 1, @M = 2 } }\n',
        'channel "M"',
        "one of L, R",
    ),
    (
        NAMES + "sections = { @V9 = { L = 1, R = 2 } }\n",
        "V9, which is not listed",
        "a part of [parts]",
    ),
    (
        NAMES + "sections = { @R1 = { L = 1, R = 2 } }\n",
        "R1, which is no tube",
        "a shared tube",
    ),
    (
        NAMES
        + "sections = { V1 = { L = 1, R = 1 } }\n"
        + '[channel.schematic]\nV1 = { plate = @"p" }\n',
        '"p R" for V1.6, which is on "p L" already',
        "one name for each terminal",
    ),
    (
        NAMES
        + R2
        + '[channel.wires]\nW5 = { run = ["R2.1", "TB1.1"], type = "thin", twist = @"W6" }\n',
        'wire "W6"',
        "another wire",
    ),
    (
        NAMES + R2 + '[channel.leads]\nR2 = ["TB1.1", @"TB1.3"]\n',
        '"TB1.3", and TB1 has no point "3"',
        "one of 1, 2",
    ),
    (
        NAMES + R2 + '[channel.leads]\nR2 = ["TB1.1", @"V1.plate"]\n',
        '"V1.plate", and V1 has no point "plate"',
        "a pin from 1 to 9 (it has 2 sections: electrode names are not enough)",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("body", "found", "expected"), WRONG, ids=[c[1][:40] for c in WRONG])
def test_what_a_channel_cannot_say(body: str, found: str, expected: str) -> None:
    said, marks = messages(CHANNEL + body)
    assert said == [f"{mark}: found {found}, expected {expected}" for mark in marks]
    assert len(said) == 1
