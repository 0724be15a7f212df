"""README.md keeps in step: its report is what the command prints, its commands exist."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest

from commands import ROOT, missing, run

README = ROOT / "README.md"
BLOCK = re.compile(r"(<!-- report:([a-z0-9-]+) -->\n)(.*?)(<!-- end -->)", re.DOTALL)
SHOWN = 3
"""Findings shown whole, each of another rule; of the others their first sentence."""


def coldcheck(*arguments: str) -> subprocess.CompletedProcess[str]:
    path = str(ROOT / ".src")
    return run(sys.executable, "-m", "coldcheck", *arguments, cwd=ROOT, PYTHONPATH=path)


def excerpt(report: str) -> str:
    """The opening, every finding (a few of them whole), and the verdict."""
    opening, heading, *rest = report.rstrip("\n").split("\n\n")
    whole: set[str] = set()
    shown: list[str] = []
    for paragraph in rest:
        rule = re.search(r"^    Rule: +(\S+)", paragraph, re.MULTILINE)
        if rule is None:
            continue
        if len(whole) < SHOWN and rule[1] not in whole:
            whole.add(rule[1])
            shown.append(paragraph)
        else:
            said, _detail, _rest = paragraph.partition("\n    ")
            shown.append(f"{said}\n    ...")
    verdict = next(one for one in rest if one.startswith("Verdict\n"))
    return "\n\n".join([opening, heading, *shown, verdict])


def test_the_report_shown_is_the_report_printed() -> None:
    text = README.read_text(encoding="utf-8")
    (block,) = BLOCK.finditer(text)
    demo = ROOT / "projects" / f"{block[2]}.toml"
    if not demo.is_file():
        missing(f"the demo {block[2]} does not exist yet")
    done = coldcheck("review", f"projects/{demo.name}")
    assert done.returncode == 1, done.stderr
    wanted = f"```text\n{excerpt(done.stdout)}\n```\n"
    record = os.environ.get("COLDCHECK_RECORD")
    if not record and not block[3]:
        missing("README.md shows no report yet; COLDCHECK_RECORD=1 writes it")
    if record:
        README.write_text(text.replace(block[0], block[1] + wanted + block[4]), encoding="utf-8")
        block = BLOCK.search(README.read_text(encoding="utf-8")) or block
    assert block[3] == wanted


def test_an_excerpt_says_where_it_leaves_out() -> None:
    found = [
        f"  WARNING: C{number}.\n    Rule:      a/{rule}" for number, rule in enumerate("wwxyzz")
    ]
    report = "\n\n".join(["Review\nf", "Findings", *found, "Verdict\n  no", "Caution\n  x\n"])
    less = [f"  WARNING: C{number}.\n    ..." for number in range(6)]
    shown = [found[0], less[1], found[2], found[3], less[4], less[5]]
    assert excerpt(report) == "\n\n".join(["Review\nf", "Findings", *shown, "Verdict\n  no"])


def test_the_commands_it_names_exist() -> None:
    text = README.read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL) + re.findall(r"`([^`\n]+)`", text)
    named = set(re.findall(r"\bcoldcheck ([a-z]+)", "\n".join(blocks)))
    assert {"review", "rules", "state", "new", "demos"} <= named
    for word in sorted(named):
        done = coldcheck(word, "--help")
        assert done.returncode == 0, word


def test_it_gives_one_test_command_for_the_gate_to_run() -> None:
    blocks = re.findall(r"<!-- test -->\n(.*?)<!-- end -->", README.read_text("utf-8"), re.DOTALL)
    (block,) = blocks
    commands = [line for line in block.splitlines() if line.startswith("python")]
    assert len(commands) == 1
    assert commands[0].endswith("python -m pytest -n auto")


def test_it_is_short_and_carries_the_cautions() -> None:
    text = README.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 300
    for words in ("discharge every reservoir", "with a meter", "local electrical codes"):
        assert words in " ".join(text.split())
    assert re.search(r"\bis safe\b", text) is None


@pytest.mark.parametrize("option", ["--as", "--to", "--fail-from", "--let-open"])
def test_the_options_it_names_exist(option: str) -> None:
    assert option in README.read_text(encoding="utf-8")
    assert option in coldcheck("review", "--help").stdout
