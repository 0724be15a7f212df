"""Channels found on the schematic, and in what they differ."""

from __future__ import annotations

import pytest

from coldcheck.lint.graphs.channels import Difference, channels, differences
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.state.values import study_of
from documents import ROOT, design, messages

ONE = """
J1 = ["in one", "0V"]
R1 = ["in one", "0V"]
V1 = { 1 = "plate one", 2 = "in one", 3 = "cathode one", 4 = "h", 5 = "0V", 6 = "plate two", 7 = "in two", 8 = "cathode two" }
R2 = ["B1", "plate one"]
R3 = ["cathode one", "0V"]
C1 = ["cathode one", "0V"]
C2 = ["plate one", "out one"]
R4 = ["out one", "0V"]
J2 = ["in two", "0V"]
R11 = ["in two", "0V"]
R12 = ["B1", "plate two"]
R13 = ["cathode two", "0V"]
C11 = ["cathode two", "0V"]
C12 = ["out two", "plate two"]
R14 = ["0V", "out two"]
C20 = ["B1", "0V"]
"""
PARTS = {
    "J": '{ kind = "connector", role = "input", contacts = ["tip", "sleeve"] }',
    "R": '{ kind = "resistor", value = "47k" }',
    "V": '{ kind = "tube", type = "6CG7" }',
    "C1": '{ kind = "capacitor", dielectric = "electrolytic", value = "47u" }',
    "C2": '{ kind = "capacitor", dielectric = "film", value = "0.1u" }',
}


def found(schematic: str = ONE, **other: str) -> tuple[Difference, ...]:
    """Differences of the two channels, parts being as given or as their letter is."""
    refs = [line.split(" = ")[0] for line in schematic.split("\n") if line]
    kinds = {r: PARTS["C2" if r in ("C2", "C12") else "C1" if r[0] == "C" else r[0]] for r in refs}
    table = "".join(f"{ref} = {other.get(ref, kind)}\n" for ref, kind in kinds.items())
    whole = design(f"[parts]\n{table}[schematic]\n{schematic}")
    one, two = channels(whole, Schematic(whole))
    return differences(whole, one, two)


def test_channels_drawn_by_hand_are_alike_whichever_way_round_their_parts_are() -> None:
    assert found() == ()


def test_a_value_that_differs_is_named() -> None:
    (only,) = found(R12='{ kind = "resistor", value = "4k7" }')
    assert (only.part.ref, only.values) == ("R2", ("value",))
    assert only.partner is not None
    assert only.partner.ref == "R12"


def test_what_is_written_beside_the_values_is_not() -> None:
    assert found(R12='{ kind = "resistor", value = "47k", note = "from the drawer" }') == ()


@pytest.mark.parametrize(("line", "alone"), [("R11", "R1"), ("C11", "C1"), ("R14", "R4")])
def test_a_part_without_a_partner_is_named(line: str, alone: str) -> None:
    kept = [text for text in ONE.splitlines() if not text.startswith(f"{line} ")]
    (only,) = found("\n".join(kept))
    assert (only.part.ref, only.partner) == (alone, None)


def test_a_part_turned_round_is_no_partner() -> None:
    """An electrolytic with its + to ground."""
    turned = ONE.replace('C11 = ["cathode two", "0V"]', 'C11 = ["0V", "cathode two"]')
    assert {d.part.ref for d in found(turned)} == {"C1", "C11"}


def test_one_channel_is_none() -> None:
    whole = design((ROOT / "projects/lantern.toml").read_text(encoding="utf-8"), "")
    assert channels(whole, Schematic(whole)) == ()


@pytest.mark.parametrize("demo", ["heron", "harbour"])
def test_a_demo_written_once_is_alike(demo: str) -> None:
    whole = design((ROOT / f"projects/{demo}.toml").read_text(encoding="utf-8"), "")
    one, two = channels(whole, Schematic(whole))
    assert len(one.graph) == len(two.graph) > 20
    assert differences(whole, one, two) == ()


def test_an_exception_that_is_none_is_refused() -> None:
    text = (ROOT / "projects/harbour.toml").read_text(encoding="utf-8")
    head, mark, tail = text.partition("[channel.schematic]\n")
    stranger = '[channel.unlike]\nR1 = { kind = "resistor", value = "1k" }\n'
    assert "a part of a channel" in messages(head + stranger + mark + tail, "")[0][0]
    other = '[channel.unlike]\nR12R = { kind = "capacitor", dielectric = "film", value = "1u" }\n'
    assert "as the other channel has" in messages(head + other + mark + tail, "")[0][0]


def test_polarity_goes_by_the_contact_that_is_called_plus() -> None:
    """A first stage, a splitter and a push-pull pair: fed back to the cathode, so not turned over."""
    signal = study_of(ROOT / "projects/harbour.toml").get("Signal")
    assert [signal.inverts(out) for out in signal.outputs] == [False, False]
    line = study_of(ROOT / "projects/heron.toml").get("Signal")
    assert [line.inverts(out) for out in line.outputs] == [True, True]
