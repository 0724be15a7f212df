"""Runs rules on a study, one by one; what one of them does never touches another."""

from __future__ import annotations

import math
import traceback
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from coldcheck.lint.engine.study import Study
from coldcheck.lint.model import (
    Crash,
    Fail,
    Missing,
    NothingToJudge,
    Open,
    Pass,
    Subject,
    Verdict,
)
from coldcheck.lint.physics.circuit import NotSolved
from coldcheck.lint.rulekit import Rule


class Heard(NamedTuple):
    """What the rules said: verdicts by rule, rules with nothing to judge, rules that crashed."""

    verdicts: tuple[tuple[str, Verdict], ...]
    silent: tuple[str, ...]
    crashes: tuple[Crash, ...]


def judge(rules: Mapping[str, Rule], study: Study, about: Subject) -> Heard:
    """Run every rule; ``about`` stands in where a rule could not even start."""
    verdicts: list[tuple[str, Verdict]] = []
    silent: list[str] = []
    crashes: list[Crash] = []
    for name in sorted(rules):
        said: list[Verdict] = []
        crashed = False
        try:
            facts = [study.get(need) for need in rules[name].facts]
            for verdict in _checked(rules[name].judge(*facts)):
                # the two halves of a twin tube may lack the same datum: it is said once
                if not (isinstance(verdict, Open) and verdict in said):
                    said.append(verdict)
        except Missing as gap:
            said.append(Open(gap.about or about, gap.datum, gap.where))
        except NothingToJudge:
            pass
        except NotSolved as gap:
            said.append(Open(about, str(gap), ()))
        except Exception as fault:
            crashed = True
            last = traceback.extract_tb(fault.__traceback__)[-1]
            where = f"{last.filename.rpartition('/')[2]} line {last.lineno}"
            crashes.append(Crash(name, f"{type(fault).__name__}: {fault}", where))
        # what was found before a rule got stuck stays found
        verdicts += [(name, verdict) for verdict in said]
        if not said and not crashed:
            silent.append(name)
    return Heard(tuple(verdicts), tuple(silent), tuple(crashes))


def _checked(said: Iterable[object]) -> Iterable[Verdict]:
    for verdict in said:
        if not isinstance(verdict, Fail | Open | Pass):
            raise TypeError(f"a rule yielded {type(verdict).__name__}, not Fail, Open or Pass")
        value = getattr(verdict, "value", None)
        if value is not None and math.isnan(value.value):
            raise ValueError(f"a rule yielded a figure for {verdict.about.name} that is no number")
        yield verdict
