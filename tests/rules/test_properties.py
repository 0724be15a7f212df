"""What must not change a verdict: names of nets, order of writing, the seed of a hash."""

from __future__ import annotations

import copy
import os
import random
import subprocess
import sys
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import coldcheck
from coldcheck.lint.engine.catalogue import catalogue
from coldcheck.lint.engine.review import review_values
from coldcheck.lint.read.errors import InputError
from coldcheck.lint.read.positions import Positions
from scenes import PROJECTS, SCENES, TODAY, written

GRAPHS = {
    "Design", "Schematic", "Wiring", "Realised", "Passages", "SignalGround", "Exposed", "MainsSide",
}  # fmt: skip
GRAPH_RULES = tuple(name for name, r in catalogue().rules.items() if set(r.facts) <= GRAPHS)
FAULTY = sorted(
    name for name, (rule, scene) in SCENES.items() if rule in GRAPH_RULES and scene.reports
)
METAL = "chassis"

Verdict = tuple[str, str, str, str]


def verdicts(raw: Mapping[str, Any], names: Mapping[str, str]) -> Counter[Verdict]:
    """Rule, kind, signal word and subject of every finding; nets by the names they had first."""
    review = review_values(raw, Positions(""), "any.toml", TODAY, GRAPH_RULES)
    assert not review.crashes, review.crashes
    return Counter(
        (
            f.rule,
            f.kind.value,
            f.signal.name,
            _first_name(f.about.name, names) if f.about.kind == "net" else f.about.name,
        )
        for f in (*review.findings, *review.opens)
    )


def _first_name(net: str, names: Mapping[str, str]) -> str:
    """A net's name before it was renamed; one in a channel keeps the channel's letter."""
    if net in names:
        return names[net]
    stem, space, letter = net.rpartition(" ")
    return f"{names[stem]}{space}{letter}" if stem in names else net


def nets_of(raw: Mapping[str, Any]) -> set[str]:
    found: set[str] = set()

    def gather(value: object) -> None:
        if isinstance(value, str):
            found.add(value)
        elif isinstance(value, list | dict):
            for inner in value.values() if isinstance(value, dict) else value:
                gather(inner)

    gather(raw["schematic"])
    gather(raw.get("channel", {}).get("schematic", {}))
    return found - {METAL}


def renamed(value: Any, names: Mapping[str, str]) -> Any:
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, list):
        return [renamed(inner, names) for inner in value]
    return {key: renamed(inner, names) for key, inner in value.items()}


def changed(name: str) -> dict[str, Any]:
    _rule, scene = SCENES[name]
    return scene.apply(written(scene.base)[0])


def test_the_pool_is_not_empty() -> None:
    assert len(FAULTY) > 40 and len(GRAPH_RULES) > 15


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.sampled_from(FAULTY), st.integers(0, 10**6))
def test_renaming_nets_changes_no_verdict(name: str, seed: int) -> None:
    raw = changed(name)
    before = verdicts(raw, {})
    assert before
    old = sorted(nets_of(raw))
    fresh = [f"n{at}" for at in range(len(old))]
    random.Random(seed).shuffle(fresh)
    names = dict(zip(old, fresh, strict=True))
    other = copy.deepcopy(raw)
    other["schematic"] = renamed(raw["schematic"], names)
    other["expect"] = {names.get(net, net): volts for net, volts in raw.get("expect", {}).items()}
    if "channel" in raw:
        for key in ("schematic", "common"):
            other["channel"][key] = renamed(raw["channel"][key], names)
    assert verdicts(other, {new: was for was, new in names.items()}) == before


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.sampled_from(FAULTY), st.integers(0, 10**6))
def test_order_of_tables_and_parts_changes_no_verdict(name: str, seed: int) -> None:
    raw = changed(name)
    before = verdicts(raw, {})
    assert before
    # the windings of a transformer and the positions of a switch keep their order
    chance = random.Random(seed)
    other = {
        key: dict(_in_disorder(table, chance))
        if key in ("parts", "schematic", "leads", "wires", "layout", "holes")
        else table
        for key, table in _in_disorder(raw, chance)
    }
    if "channel" in other:
        other["channel"] = {
            key: dict(_in_disorder(table, chance)) if isinstance(table, dict) else table
            for key, table in _in_disorder(raw["channel"], chance)
        }
    assert verdicts(other, {}) == before


def _in_disorder(table: Mapping[str, Any], chance: random.Random) -> list[tuple[str, Any]]:
    entries = list(table.items())
    chance.shuffle(entries)
    return entries


@settings(max_examples=120, deadline=None, derandomize=True)
@given(st.sampled_from(["lantern", "heron", "lantern-first-draft"]), st.integers(0, 10**6))
def test_a_design_torn_to_pieces_crashes_no_rule(base: str, seed: int) -> None:
    """Parts, wires, leads, holes and single keys go missing; every rule still answers."""
    chance = random.Random(seed)
    raw = copy.deepcopy(dict(written(base)[0]))
    for _ in range(chance.randint(1, 12)):
        table = raw.get(chance.choice(["schematic", "leads", "wires", "layout", "holes", "parts"]))
        if not table:
            continue
        ref = chance.choice(sorted(table))
        entry = table[ref]
        if isinstance(entry, dict) and len(entry) > 1 and chance.random() < 0.5:
            del entry[chance.choice(sorted(entry))]
        else:
            del table[ref]
    try:
        review = review_values(raw, Positions(""), "any.toml", TODAY, GRAPH_RULES)
    except InputError:
        return  # refused with a sentence, which is an answer too
    assert not review.crashes, review.crashes
    assert len({f.rule for f in (*review.findings, *review.opens, *review.passes)}) > 3


@pytest.mark.parametrize("project", ["lantern", "lantern-first-draft", "heron"])
def test_the_seed_of_the_hash_changes_no_byte(project: str, tmp_path: Path) -> None:
    text = (PROJECTS / f"{project}.toml").read_text(encoding="utf-8")
    # an input jack on bare metal and no earth wire: loops and ways to choose between
    text = text.replace("insulated = true", "insulated = false").replace(
        '["J1.PE", "E1"]', '["J1.PE", "TB1.4"]'
    )
    (tmp_path / "project.toml").write_text(text, encoding="utf-8")
    outputs = set()
    for seed in ("0", "1", "4711"):
        run = subprocess.run(
            [sys.executable, "-m", "coldcheck", "review", "--as", "json", "project.toml"],
            cwd=tmp_path,
            env=os.environ
            | {"PYTHONHASHSEED": seed, "PYTHONPATH": str(Path(coldcheck.__file__).parent.parent)},
            capture_output=True,
            check=False,
        )
        assert run.returncode in (0, 1), run.stderr.decode()
        assert b"ground/loop" in run.stdout
        outputs.add(run.stdout)
    assert len(outputs) == 1
