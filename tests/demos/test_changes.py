"""What an expert would say of a demo with one thing changed, and nothing else."""

from __future__ import annotations

from typing import Any

import pytest

from coldcheck.lint.engine.review import review_values
from coldcheck.lint.engine.stories import Scene
from scenes import TODAY, written

REVERSED = {
    "primary.1": "plate b",
    "primary.ct": "B5",
    "primary.2": "plate a",
    "secondary.0": "speaker",
    "secondary.8": "0V",
}
OTHER_BAG = {"kind": "resistor", "value": "120k", "power": "2 W", "voltage": "500 V"}
CHANGES: dict[str, tuple[dict[str, Any], list[tuple[str, str, str]]]] = {
    "the secondary the other way round, and so the feedback": (
        {
            "channel.schematic.T2": REVERSED,
            "channel.leads.T2": {
                "primary.1": "V3.3",
                "primary.ct": "TB5.11",
                "primary.2": "V2.3",
                "secondary.0": "J3.+",
                "secondary.8": "J3.-",
            },
        },
        [
            ("signal/feedback-sign", "R15L", "CAUTION"),
            ("signal/feedback-sign", "R15R", "CAUTION"),
        ],
    ),
    "one channel's plate load from another bag": (
        {"channel.unlike.R12R": OTHER_BAG},
        [("signal/unlike-channels", "R12R", "NOTICE")],
    ),
    "the mains transformer turned by a right angle": (
        {"layout.T1.turn": 90},
        [
            ("hum/transformer-turn", "T2L", "NOTICE"),
            ("hum/transformer-turn", "T2R", "NOTICE"),
        ],
    ),
}


@pytest.mark.parametrize("tells", CHANGES)
def test_harbour_changed_in_one_thing(tells: str) -> None:
    put, expected = CHANGES[tells]
    raw, positions = written("harbour")
    changed = Scene(tells, "", "harbour", (), put).apply(raw)
    review = review_values(changed, positions, "harbour.toml", TODAY)
    found = [(f.rule, f.about.name, f.signal.name) for f in review.findings]
    assert sorted(found) == expected
    assert not review.crashes


def test_a_volume_control_with_its_wiper_on_the_source_is_reviewed_whole() -> None:
    """Half its track has both ends on one net, and so is no element that could be turned."""
    put = {"channel.schematic.RV1": ["0V", "in", "in"]}
    raw, positions = written("heron")
    changed = Scene("", "", "heron", (), put).apply(raw)
    review = review_values(changed, positions, "heron.toml", TODAY)
    assert not review.crashes
    assert "signal/first-stage-overload" in {f.rule for f in (*review.findings, *review.passes)}
