"""Disturbed circuits: every solvable one is solved, every other ends in a sentence that names a part.

Some of them here; ``python tests/solve_disturbed.py`` takes 500, the regulated supply among them.
"""

from __future__ import annotations

import dataclasses

import pytest

from coldcheck.lint.physics.supply import periodic_state
from physics import disturbed, references

QUICK = tuple(name for name in references.REFERENCES if name != references.REGULATED)
GROUPS, EACH = 5, 20


@pytest.mark.parametrize("group", range(GROUPS))
def test_disturbed_circuits(group: int) -> None:
    """No warning (pytest makes it an error), nothing infinite, Kirchhoff and the laws kept."""
    solvable = 0
    for seed in range(EACH * group, EACH * (group + 1)):
        circuit, words = disturbed.disturbed(seed, QUICK)
        verdict = disturbed.judge(circuit, seed)
        assert not verdict.wrong, (seed, words)
        if verdict.solvable:
            solvable += 1
            assert not verdict.refused, (seed, words)
    assert solvable >= EACH // 3


def test_a_seed_is_a_circuit() -> None:
    assert disturbed.disturbed(7) == disturbed.disturbed(7)
    assert disturbed.disturbed(7) != disturbed.disturbed(8)


def test_what_is_solvable_is_seen_on_the_graph() -> None:
    whole = references.REFERENCES[references.DOUBLER](230.0, 0.0)
    assert disturbed.solvable(whole)
    assert not disturbed.solvable(references.without(whole, "R5"))


def test_a_fault_would_be_seen() -> None:
    """The checks of this test on a state whose voltages were raised by a thousandth."""
    whole = references.REFERENCES[references.PREAMPLIFIER](230.0, 0.0)
    state = periodic_state(whole)
    assert not disturbed.faults_of_state(whole, state)
    raised = dataclasses.replace(state, solution=1.001 * state.solution)
    assert disturbed.faults_of_state(whole, raised)
