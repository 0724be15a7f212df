"""Two halves of a rule book judged at the same time, where there are two processors.

A commit hook is waited for, and most of that wait is solving.  Rules that lead to the driven
amplifier need little that the others need, so a copy of the process judges them.
What is heard is the same, in the same order: facts are made alike in both.
"""

from __future__ import annotations

import os
import pickle
import sys
from collections.abc import Mapping

from coldcheck.lint.engine.judge import Heard, judge
from coldcheck.lint.engine.study import Study
from coldcheck.lint.model import Subject
from coldcheck.lint.rulekit import Rule

FAR = frozenset(
    {
        "Conductors",
        "FullDrive",
        "GroundNetwork",
        "HeaterCoupling",
        "HumBudget",
        "LevelPlan",
        "Ripple",
        "Signal",
        "SlowModes",
        "States",
    }
)
"""Facts that full drive is needed for; about half of the work of a review."""


def judge_abreast(rules: Mapping[str, Rule], study: Study, about: Subject) -> Heard:
    """As :func:`~coldcheck.lint.engine.judge.judge`, in two processes where that is of use.

    For a process that does nothing else and has one thread: its copy must not outlive it.
    """
    far = {name: rule for name, rule in rules.items() if not FAR.isdisjoint(rule.facts)}
    near = {name: rule for name, rule in rules.items() if name not in far}
    if not (far and near and _two_processors()):
        return judge(rules, study, about)
    _share(study)
    reader, writer = os.pipe()
    copy = os.fork()
    if copy == 0:
        try:
            os.close(reader)
            with open(writer, "wb") as pipe:
                pickle.dump(judge(far, study, about), pipe)
        finally:
            os._exit(0)  # nothing of what the parent has still to write is written twice
    os.close(writer)
    mine = judge(near, study, about)
    with open(reader, "rb") as pipe:
        sent = pipe.read()
    os.waitpid(copy, 0)
    try:
        its: Heard = pickle.loads(sent)
    except (EOFError, pickle.UnpicklingError):
        its = judge(far, study, about)  # the copy was killed, or ran out of memory
    return Heard(
        tuple(sorted((*mine.verdicts, *its.verdicts), key=lambda said: said[0])),
        tuple(sorted((*mine.silent, *its.silent))),
        tuple(sorted((*mine.crashes, *its.crashes), key=lambda crash: crash.rule)),
    )


def _two_processors() -> bool:
    # elsewhere a copy of a process that has loaded numpy is not to be relied on
    return sys.platform == "linux" and len(os.sched_getaffinity(0)) > 1


def _share(study: Study) -> None:
    """Solve once what both halves begin with; what it raises each will hear for itself."""
    try:
        warm = study.get("Warm")
        _ = warm.nominal, warm.high
    except Exception:
        return
