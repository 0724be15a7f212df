"""What input wires lie beside: lengths by hand, and what counts as which kind of wire."""

from __future__ import annotations

import math

import pytest

from coldcheck.lint.facts.runs import CLOSE, Runs
from facts.test_full_drive import demo


def runs(name: str, *changes: tuple[str, str]) -> Runs:
    found = demo(name, *changes).get("Runs")
    assert isinstance(found, Runs)
    return found


@pytest.mark.parametrize(
    ("name", "quiet", "loud"),
    [
        ("lantern", {"W22", "W24"}, {"W1", "W2", "W3", "W4", "W5", "W15", "W16", "W19"}),
        (
            "harbour",
            {"W30L", "W30R"},
            {"W1", "W2", "W3", "W4", "W5", "W15", "W16", "W17", "W18", "W36L", "W36R"},
        ),
    ],
)
def test_wires_are_of_the_kinds_that_the_drawing_says(
    name: str, quiet: set[str], loud: set[str]
) -> None:
    """W7 of Lantern is on the rectifier's filament, but it is dc that it carries."""
    found = runs(name)
    assert {wire.ref for wire in found.quiet} == quiet
    assert {wire.ref for wire in found.loud} == loud
    assert not found.unplaced


def test_wires_from_one_strip_part_as_their_angle_says() -> None:
    """Harbour's W30L and W36L both start at TB4L: near for CLOSE over the sine of the angle."""
    (run,) = [r for r in runs("harbour").beside if (r.quiet.ref, r.loud.ref) == ("W30L", "W36L")]
    strip, jack, speaker = (260, 80, 70), (480, 60, 35), (265, 300, 35)
    one, other = ([q - p for p, q in zip(strip, end, strict=True)] for end in (jack, speaker))
    cosine = sum(a * b for a, b in zip(one, other, strict=True)) / math.hypot(*one)
    cosine /= math.hypot(*other)
    # past a right angle the strip itself is the nearest place
    assert cosine < 0.0
    assert run.length == pytest.approx(CLOSE, abs=1e-3)
    assert run.carries == "the output" and not run.twisted


def test_a_screened_lead_is_not_judged() -> None:
    screen = (
        'W28 = { run = ["TB4.5", "RV1.ccw"], type = "signal", length = "120 mm", shield = true }'
    )
    found = runs("lantern", ("W26 = {", f"{screen}\nW26 = {{"))
    assert {wire.ref for wire in found.quiet} == {"W22"}


def test_a_part_without_a_place_is_named() -> None:
    found = runs("lantern", ('S1 = { on = "front", at = [30, 30] }\n', ""))
    assert found.unplaced == ("S1",)
