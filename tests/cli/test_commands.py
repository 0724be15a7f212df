"""The other commands, and what all have in common: light, exact, and never a traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from coldcheck import __version__
from coldcheck.lint.cli import demos, main, new
from stand_in import Engine

Capture = pytest.CaptureFixture[str]
Patch = pytest.MonkeyPatch
ROOT = Path(__file__).parents[2]
HEAVY = {"numpy", "networkx", "pydantic", "rich", "scipy"}


def coldcheck(*arguments: str, **variables: str) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "coldcheck", *arguments],
        env={**os.environ, "PYTHONPATH": str(ROOT / ".src"), **variables},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def loaded(*arguments: str) -> set[str]:
    """The top-level modules in memory after the command has run."""
    program = (
        "import sys\nfrom coldcheck.lint.cli import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit:\n    pass\n"
        "print(*sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        env={**os.environ, "PYTHONPATH": str(ROOT / ".src")},
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stderr.split("\n")[-2].split())


@pytest.mark.parametrize(
    "arguments", [["--help"], ["--version"], ["review", "--help"], ["demos"], ["new", "/"]]
)
def test_small_talk_is_light(arguments: list[str]) -> None:
    assert loaded(*arguments) & HEAVY == set()


def test_a_plain_report_needs_no_typesetter() -> None:
    demo = str(ROOT / "projects" / "lantern.toml")
    assert (
        loaded("review", demo, "--only", "wiring", "--to", os.devnull) & {"rich", "numpy"} == set()
    )


def test_a_rule_page_needs_no_heavy_library() -> None:
    program = (
        "import sys; import coldcheck.lint.reports.rulepage, coldcheck.lint.cli.rules\n"
        "print(*sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "PYTHONPATH": str(ROOT / ".src")},
        capture_output=True,
        text=True,
        check=True,
    )
    assert set(done.stdout.split()) & HEAVY == set()


def test_the_version_is_printed() -> None:
    done = coldcheck("--version")
    assert (done.returncode, done.stdout) == (0, f"coldcheck {__version__}\n")


def test_help_gives_the_caution() -> None:
    done = coldcheck("review", "--help")
    assert done.returncode == 0
    assert "Voltages in tube amplifiers kill" in done.stdout


def test_nothing_asked_is_answered_with_help() -> None:
    done = coldcheck()
    assert (done.returncode, done.stdout) == (2, "")
    assert "usage: coldcheck" in done.stderr


ASK = "--help` shows what can be asked."
COLUMNS = f"is not a number of columns from 40 to 400. `coldcheck review {ASK}"
COMMANDS = "The commands are review, rules, rule, state, chain, new, schema, demos."


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["reveiw"], f"there is no command 'reveiw'. Did you mean 'review'? {COMMANDS}"),
        (["review"], f"the following arguments are required: PATH. `coldcheck review {ASK}"),
        (["review", "x", "--width", "ten"], f"argument --width: 'ten' {COLUMNS}"),
        (["review", "x", "--pass"], f"unrecognized arguments: --pass. `coldcheck {ASK}"),
    ],
)
def test_misuse_is_explained(capsys: Capture, arguments: list[str], said: str) -> None:
    assert main(arguments) == 2
    assert capsys.readouterr().err == f"coldcheck: {said}\n"


def test_a_fault_of_ours_is_owned_in_one_line(
    engine: Engine, amp: str, capsys: Capture, monkeypatch: Patch
) -> None:
    engine.fault = ZeroDivisionError("division by zero")
    assert main(["review", amp]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("coldcheck: sorry, ZeroDivisionError at lint/cli/review.py:")
    assert "Traceback" not in err
    monkeypatch.setenv("COLDCHECK_TRACE", "1")
    with pytest.raises(ZeroDivisionError):
        main(["review", amp])


def test_an_interrupt_is_quiet(engine: Engine, amp: str, capsys: Capture) -> None:
    engine.fault = KeyboardInterrupt()
    assert main(["review", amp]) == 130
    assert capsys.readouterr().err == "coldcheck: interrupted\n"


@pytest.mark.skipif(os.name == "nt", reason="POSIX pipes")
def test_a_reader_may_leave_early() -> None:
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "coldcheck", "demos", "lantern"],
        env={**os.environ, "PYTHONPATH": str(ROOT / ".src")},
        stdout=write,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (141, "")


def test_a_poor_terminal_does_not_end_the_run() -> None:
    done = coldcheck("review", "/nowhere/Ω.toml", PYTHONIOENCODING="ascii")
    assert done.returncode == 2
    assert done.stderr == "coldcheck: there is no file or folder '/nowhere/\\u03a9.toml'\n"


def test_rules_are_listed(engine: Engine, capsys: Capture) -> None:
    assert main(["rules"]) == 0
    out = capsys.readouterr().out
    assert "  DANGER   earth/fixed-path\n" in out
    assert out.endswith("\nRemark: rule pack 'bench' was left out.\n")
    assert main(["rules", "tubes"]) == 0
    assert "earth" not in capsys.readouterr().out
    assert main(["rules", "tube"]) == 2
    assert "Did you mean 'tubes'?" in capsys.readouterr().err


def test_a_rule_is_explained(engine: Engine, capsys: Capture) -> None:
    assert main(["rule", "earth/fixed-path"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("earth/fixed-path\n")
    assert "the bleeder was left out" in out


def test_a_misspelt_rule_gets_a_suggestion(engine: Engine, capsys: Capture) -> None:
    assert main(["rule", "earth/fixed-paht"]) == 2
    assert capsys.readouterr().err == (
        "coldcheck: there is no rule 'earth/fixed-paht'. Did you mean 'earth/fixed-path'? "
        "`coldcheck rules` lists them.\n"
    )


def test_state_is_shown(engine: Engine, amp: str, capsys: Capture) -> None:
    assert main(["state", amp]) == 0
    assert capsys.readouterr().out == "{'z': 1.0, 'a': ['amp.toml']}\n"
    assert main(["state", amp, "--as", "json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"a": ["amp.toml"], "z": 1.0}


def test_a_starter_is_written_once(here: Path, monkeypatch: Patch, capsys: Capture) -> None:
    (here / "schemas").mkdir()
    (here / "schemas" / "starter.toml").write_text("# fill in: 1 kΩ\n", encoding="utf-8")
    monkeypatch.setattr(new, "folder", lambda name: str(here / name))
    assert main(["new", "my.toml"]) == 0
    assert capsys.readouterr().out == (
        "Wrote my.toml. Fill it in, then: coldcheck review my.toml\n"
    )
    assert (here / "my.toml").read_text(encoding="utf-8") == "# fill in: 1 kΩ\n"
    (here / "my.toml").write_text("mine", encoding="utf-8")
    assert main(["new", "my.toml"]) == 2
    assert capsys.readouterr().err == ("coldcheck: 'my.toml' exists already and is left as it is\n")
    assert (here / "my.toml").read_text(encoding="utf-8") == "mine"
    assert main(["new", "no/my.toml"]) == 2
    assert "could not be written: No such file" in capsys.readouterr().err


def test_demos_are_listed_and_printed(here: Path, monkeypatch: Patch, capsys: Capture) -> None:
    (here / "projects").mkdir()
    first = "# A first amplifier.\nformat = 1\n"
    (here / "projects" / "one.toml").write_text(first, encoding="utf-8")
    (here / "projects" / "second.toml").write_text(
        'format = 1\n[project]\nname = "Two"\nduty = "supply"\n', encoding="utf-8"
    )
    monkeypatch.setattr(demos, "folder", lambda name: str(here / name))
    assert main(["demos"]) == 0
    assert capsys.readouterr().out == "one     A first amplifier.\nsecond  Two, supply\n"
    assert main(["demos", "one"]) == 0
    assert capsys.readouterr().out == first
    assert main(["demos", "secnd"]) == 2
    assert capsys.readouterr().err == (
        "coldcheck: there is no demo 'secnd'. Did you mean 'second'? `coldcheck demos` lists "
        "them.\n"
    )


def test_every_shipped_demo_has_a_line() -> None:
    lines = coldcheck("demos").stdout.splitlines()
    assert [line.split(maxsplit=1)[0] for line in lines] == sorted(
        path.stem for path in (ROOT / "projects").glob("*.toml")
    )
    assert all(len(line.split(maxsplit=1)) == 2 for line in lines)


def test_the_schema_printed_is_the_schema_shipped(capsys: Capture) -> None:
    assert main(["schema"]) == 0
    printed = capsys.readouterr().out
    assert printed == (ROOT / "schemas" / "document.schema.json").read_text(encoding="utf-8")
    assert json.loads(printed)["$schema"].endswith("2020-12/schema")
