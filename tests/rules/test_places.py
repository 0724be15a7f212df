"""Findings stand on the line that has to be changed."""

from __future__ import annotations

import pytest

from coldcheck.lint.engine.review import review_text
from coldcheck.lint.model import Finding
from scenes import PROJECTS, TODAY

TEXT = (PROJECTS / "lantern.toml").read_text(encoding="utf-8")
GROMMET = ', grommet = { hole = "12.7 mm", groove = "2.4 mm", bore = "9.5 mm" }'

# what is changed, into what; the rule, its subject, and how the line it points at begins
PLACES = [
    ('E1 = { kind = "chassis bond", fixing = "own screw" }', 'E1 = { kind = "chassis bond" }',
     "earth/weak-bond", "E1", "E1 = {"),
    ('colour = "green/yellow", length = "70 mm"', 'colour = "green/yellow"',
     "earth/weak-bond", "W6", "W6 = {"),
    ('covers.bottom = { contact = "screws on bare metal"', 'covers.bottom = { contact = "none"',
     "earth/unbonded-metal", "bottom cover", "covers.bottom ="),
    (GROMMET, "", "metal/bare-edge", "H1", "H1 = {"),
    ('W11 = { run = ["TB2.5", "TB4.1"]', 'W11 = { run = ["TB2.5", "TB4.3"]',
     "wiring/missing-connection", "B3", "C3 = [\"B3\""),
    ('R9 = ["drive", "0V"]\n', "", "wiring/idle-part", "R9", "R9 = { kind"),
    ('shell = "sleeve", insulated = true }', 'shell = "sleeve" }', "ground/loop", "J2", "J2 = {"),
    ('J1 = ["line", "neutral", "earth"]', 'J1 = ["line", "0V", "earth"]',
     "earth/hot-chassis", "0V", "C1 = [\"B1\", \"0V\"]"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "rule", "about", "begins"), PLACES)
def test_place(old: str, new: str, rule: str, about: str, begins: str) -> None:
    assert TEXT.count(old) == 1
    # a comment of two lines above it all: every line below moves, and the places with it
    text = "# one\n# two\n" + TEXT.replace(old, new)
    review = review_text(text.encode(), "lantern.toml", TODAY, [rule])
    found = [f for f in (*review.findings, *review.opens) if f.about.name == about]
    assert len(found) == 1, [f.says or f.datum for f in found]
    place = found[0].place
    assert place is not None and place.file == "lantern.toml"
    line = text.splitlines()[place.line - 1]
    assert line[place.column - 1 :].startswith(begins.split()[0]) or line.startswith(begins), line
    assert line.startswith(begins), line


def test_a_missing_datum_points_at_where_it_would_be_written() -> None:
    text = TEXT.replace('colour = "green/yellow", length = "70 mm"', 'colour = "green/yellow"')
    opens: tuple[Finding, ...] = review_text(
        text.encode(), "lantern.toml", TODAY, ["earth/weak-bond"]
    ).opens
    assert [(f.about.name, f.datum) for f in opens] == [("W6", "the length of W6")]
    assert opens[0].place is not None
    assert text.splitlines()[opens[0].place.line - 1].startswith("W6 =")
