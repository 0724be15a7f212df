"""A rule book judged in two halves at once says what it says when judged in one."""

from __future__ import annotations

import importlib
import subprocess
import sys

import pytest

from coldcheck.lint.cli import main
from coldcheck.lint.engine.abreast import FAR
from coldcheck.lint.rulekit import NEEDS
from documents import ROOT

DEMOS = ("heron", "lantern-first-draft")
KILLED = """
import datetime, os, sys
from coldcheck.lint.engine import abreast
from coldcheck.lint.engine.catalogue import selected
from coldcheck.lint.engine.review import review_path
whole = abreast.judge
parent = os.getpid()
def judge(*given):
    if os.getpid() != parent:
        os._exit(9)
    return whole(*given)
abreast.judge = judge
abreast._two_processors = lambda: True
one, other = (review_path(sys.argv[1], datetime.date(2026, 1, 31), (), None, a) for a in (True, False))
print(one == other, len(one.passes) > 50)
"""


def run(*arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT / ".src"), "PATH": "", "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize("demo", DEMOS)
def test_the_command_says_what_one_process_says(
    demo: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    asked = ["review", f"projects/{demo}.toml", "--as", "json", "--passed", "--no-personal"]
    main(asked)
    assert run("-m", "coldcheck", *asked) == capsys.readouterr().out


def test_a_copy_that_is_killed_is_made_up_for() -> None:
    assert run("-c", KILLED, "projects/heron.toml") == "True True\n"


def test_the_far_facts_are_those_that_full_drive_is_needed_for() -> None:
    asks = {
        name: {
            need.removesuffix(" | None")
            for slot, need in importlib.import_module(module).make.__annotations__.items()
            if slot != "return"
        }
        for name, (module, _words) in NEEDS.items()
        if name != "Design"
    }
    far = {"FullDrive"}
    while more := {name for name, needs in asks.items() if needs & far and name not in far}:
        far |= more
    assert far == FAR
