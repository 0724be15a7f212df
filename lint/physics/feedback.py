"""Feedback, found by its effect: which parts lead back what comes out, and with which sign.

A resistor or capacitor carries feedback when a loop goes through it (its loop gain T is not small)
and the way from the input to the output does not (without it the gain is 1 + T times what it was).
Taking one part out of a linear circuit is a change of rank one, so all of them are tried on one
inverse of the matrix: J. Sherman, W. J. Morrison, Ann. Math. Stat. 21, 124, 1950.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import Capacitor, Resistor
from coldcheck.lint.physics.large_signal import Output
from coldcheck.lint.physics.matrices import BRANCH_OHMS
from coldcheck.lint.physics.small_signal import MIDDLE, Branch, SmallSignal

LEAST_LOOP = 0.1
"""Loop gain at mid-band below which a part is not said to carry feedback: 0.8 dB; our choice."""
LEFT = 0.7
"""Share of 1 + T times the gain that must be there without a part, or else it is the way, or one of
two ways as in a push-pull stage; our choice."""
HEARD = 1e-3
"""Share of the output that both ends of a part carry, or it has nothing to do with it; our choice."""
BARE = 1e-9
"""Share of a part's conductance that its nodes must have besides, or nothing but it holds them."""
OVERALL = 0.3
"""Share of its loop gain that may be left with the output held still, where the feedback is
from the output; our choice."""


class Return(NamedTuple):
    """Parts that lead a signal back."""

    branch: Branch
    loop: complex
    """Loop gain at mid-band: positive real when the feedback is negative."""
    overall: bool
    """Whether it comes from the output, and not from within one stage."""

    @property
    def positive(self) -> bool:
        return self.loop.real < 0.0


def returns(linear: SmallSignal, output: Output, ignored: Sequence[str] = ()) -> tuple[Return, ...]:
    """Every branch that carries feedback about the way to ``output``, the strongest first.

    ``ignored``: elements that are none, such as the load.
    """
    inverse: Any = np.linalg.inv(linear.matrix(MIDDLE))
    out = linear.row(output)
    entry = linear.entry()
    moved = inverse @ entry
    gain = abs(out @ moved)
    if gain == 0.0:
        return ()
    held = _held(inverse, out)
    found = []
    for pair, elements in _branches(linear, ignored).items():
        s = 2j * np.pi * MIDDLE
        siemens = sum(s * e.farads if isinstance(e, Capacitor) else 1.0 / e.ohms for e in elements)
        row = linear.row(pair)
        ground = linear.network.circuit.ground
        if min(abs(linear.row((node, ground)) @ moved) for node in pair) < HEARD * gain:
            continue
        if abs(1.0 - siemens * (row @ inverse @ row)) < BARE:
            continue
        opened = _without(inverse, row, siemens)
        loop = _loop(opened, linear, pair, siemens)
        alone = abs(out @ opened @ entry)
        if abs(loop) < LEAST_LOOP or alone < LEFT * abs(1.0 + loop) * gain:
            continue
        left = abs(_loop(_without(held, row, siemens), linear, pair, siemens))
        branch = Branch(tuple(e.name for e in elements), *pair)
        found.append(Return(branch, loop, bool(left < OVERALL * abs(loop))))
    return tuple(sorted(found, key=lambda r: (-abs(r.loop), r.branch.names)))


def _branches(
    linear: SmallSignal, ignored: Sequence[str]
) -> dict[tuple[str, str], list[Resistor | Capacitor]]:
    """Resistors and capacitors between two nodes that are not ground, those in parallel together."""
    circuit = linear.network.circuit
    found: dict[tuple[str, str], list[Resistor | Capacitor]] = {}
    for element in circuit.elements:
        match element:
            case Resistor() if element.ohms >= BRANCH_OHMS:
                pass
            case Capacitor() if element.farads > 0.0:
                pass
            case _:
                continue
        if circuit.ground in (element.a, element.b) or element.name in ignored:
            continue
        first, second = sorted((element.a, element.b))
        if first != second:
            found.setdefault((first, second), []).append(element)
    return found


def _without(inverse: Any, row: Any, siemens: complex) -> Any:
    """The inverse with a conductance between two nodes taken away."""
    column, across = inverse @ row, row @ inverse
    return inverse + np.outer(column, across) * (siemens / (1.0 - siemens * (row @ column)))


def _held(inverse: Any, row: Any) -> Any:
    """The inverse with a port's voltage held still."""
    column, across = inverse @ row, row @ inverse
    seen = row @ column
    return inverse - np.outer(column, across) / seen if abs(seen) > 0.0 else inverse


def _loop(opened: Any, linear: SmallSignal, pair: tuple[str, str], siemens: complex) -> complex:
    """As :func:`~coldcheck.lint.physics.small_signal.loop_gain`, at one frequency."""
    ground = linear.network.circuit.ground
    first, second = (linear.row((node, ground)) for node in pair)
    crossed = first @ opened @ second + second @ opened @ first
    return complex(-crossed / (first @ opened @ first + second @ opened @ second + 1.0 / siemens))
