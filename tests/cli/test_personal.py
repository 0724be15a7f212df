"""The builder's own tube library: where it is looked for, what it adds, what is said of slips."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from coldcheck.lint.read.errors import InputError
from coldcheck.lint.read.personal import personal_file, read_personal

ROOT = Path(__file__).parents[2]
OWN = """
[tubes.EBX1]
like = "6J5"
source = "bench notes of 1999"
plate_watts = "3 W"

[tubes."6SN7GTB"]
like = "6SN7GTB"
source = "a sheet in the drawer"
plate_watts = "4 W"
"""
AMP = """
format = 1
[project]
name = "Any"
duty = "supply"
[site]
mains = { voltage = "230 V", frequency = "50 Hz", tolerance = "10 %" }
ambient = "30 degC"
[parts]
V1 = { kind = "tube", type = "EBX1" }
V2 = { kind = "tube", type = "12AX7" }
"""


@pytest.fixture
def own(tmp_path: Path) -> Path:
    file = tmp_path / "own.toml"
    file.write_text(OWN, encoding="utf-8")
    return file


@pytest.fixture
def amp(tmp_path: Path) -> Path:
    file = tmp_path / "amp.toml"
    file.write_text(AMP, encoding="utf-8")
    return file


def coldcheck(*arguments: str | Path, **variables: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "coldcheck", *map(str, arguments)],
        env={**os.environ, "PYTHONPATH": str(ROOT / ".src"), **variables},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_where_the_file_is_looked_for(tmp_path: Path) -> None:
    """XDG Base Directory Specification 0.8; the platforms' own folders, common practice."""
    home = str(tmp_path)
    folders = {
        "linux": tmp_path / ".config",
        "darwin": tmp_path / "Library" / "Application Support",
    }
    for platform, folder in folders.items():
        assert personal_file({"HOME": home}, platform) is None
        file = folder / "coldcheck" / "tubes.toml"
        file.parent.mkdir(parents=True)
        file.write_text(OWN, encoding="utf-8")
        assert personal_file({"HOME": home}, platform) == file
    roaming = tmp_path / "roaming"
    (roaming / "coldcheck").mkdir(parents=True)
    file = roaming / "coldcheck" / "tubes.toml"
    file.write_text(OWN, encoding="utf-8")
    assert personal_file({"APPDATA": str(roaming), "USERPROFILE": home}, "win32") == file
    for platform in ("linux", "darwin", "win32"):
        assert personal_file({"XDG_CONFIG_HOME": str(roaming), "HOME": home}, platform) == file
    relative = {"XDG_CONFIG_HOME": "roaming", "HOME": home}
    assert personal_file(relative, "linux") == tmp_path / ".config" / "coldcheck" / "tubes.toml"
    assert personal_file({}, "linux") is None


def test_the_variable_comes_first_and_empty_means_none(tmp_path: Path, own: Path) -> None:
    everywhere = {"XDG_CONFIG_HOME": str(tmp_path), "HOME": str(tmp_path)}
    assert personal_file({"COLDCHECK_TUBES": str(own), **everywhere}) == own
    assert personal_file({"COLDCHECK_TUBES": "", **everywhere}) is None


def test_personal_types_come_before_the_shipped_and_after_the_project_s(own: Path) -> None:
    types = read_personal(own)
    mine, changed, shipped = types.find("ebx-1"), types.find("6sn7-gtb"), types.find("6SL7GT")
    assert mine is not None and changed is not None and shipped is not None
    assert (mine.origin, changed.origin, shipped.origin) == ("personal", "personal", "library")
    assert changed.limits["plate_watts"].value == 4.0
    assert changed.limits["plate_watts"].source == "a sheet in the drawer"
    assert changed.limits["plate_volts"].value == 450.0

    from coldcheck.lint.read.project import load
    from coldcheck.lint.read.toml import read_text

    project = '[tubes.EBX1]\nlike = "EBX1"\nsource = "the project"\nplate_volts = "200 V"\n'
    raw, positions = read_text((AMP + project).encode(), "x")
    kind = load(raw, positions, "x", types).design.parts["V1"].tube
    assert kind is not None and kind.origin == "project"
    assert kind.limits["plate_volts"].value == 200.0
    assert kind.limits["plate_watts"].value == 3.0


def test_reports_name_the_types_that_are_the_builder_s_own(own: Path, amp: Path) -> None:
    said = "tube type EBX1 is from the personal tube library (bench notes of 1999)"
    for form in ("console", "json", "sarif"):
        done = coldcheck(
            "review", amp, "--as", form, "--fail-from", "danger", COLDCHECK_TUBES=str(own)
        )
        assert said in " ".join(done.stdout.split()), done.stderr
        assert "neither in the library" not in done.stdout
    done = coldcheck("state", amp, "--as", "json", COLDCHECK_TUBES=str(own))
    assert any(note.startswith(said) for note in json.loads(done.stdout)["notes"])
    # only what the design uses is said
    assert "6SN7GTB" not in done.stdout


def test_a_review_meant_for_others_leaves_the_file_alone(own: Path, amp: Path) -> None:
    done = coldcheck("review", amp, "--no-personal", COLDCHECK_TUBES=str(own))
    assert "V1 is of type EBX1, which is neither" in " ".join(done.stdout.split())
    broken = own.with_name("broken.toml")
    broken.write_text("[tubes", encoding="utf-8")
    done = coldcheck("review", amp, "--no-personal", COLDCHECK_TUBES=str(broken))
    assert done.returncode == 1 and "broken.toml" not in done.stdout + done.stderr
    hooks = (ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8")
    assert "coldcheck review --if-document --no-personal" in hooks


BROKEN = {
    "not TOML": ("[tubes\n", ":1:7: found the end of the line, expected"),
    "another chapter": (
        '[tube.EBX1]\nlike = "6J5"\n',
        ':1:2: found "tube", expected tables such as [tubes."EBX1"] and nothing else',
    ),
    "no source": ('[tubes.EBX1]\nlike = "6J5"\n', ':1:1: found EBX1 without "source", expected'),
    "a key misspelt": (
        '[tubes.EBX1]\nlike = "6J5"\nsource = "a sheet"\nplate_wats = "3 W"\n',
        ':4:1: found unknown key "plate_wats", expected one of ',
    ),
    "a value without its unit": (
        '[tubes.EBX1]\nlike = "6J5"\nsource = "a sheet"\nplate_watts = "3"\n',
        ':4:15: found plate_watts = "3", expected a power such as ',
    ),
    "like none": (
        '[tubes.EBX1]\nlike = "6J55"\nsource = "a sheet"\n',
        ':2:8: found like = "6J55", expected a tube type that is known (did you mean "6J5"?)',
    ),
}


@pytest.mark.parametrize("slip", BROKEN)
def test_a_broken_file_ends_the_command_with_its_place(slip: str, amp: Path) -> None:
    text, said = BROKEN[slip]
    file = amp.with_name("mine.toml")
    file.write_text(text, encoding="utf-8")
    for command in ("review", "state"):
        done = coldcheck(command, amp, COLDCHECK_TUBES=str(file))
        assert done.returncode == 2
        assert done.stdout == ""
        assert done.stderr.startswith(f"{file}{said}"), done.stderr
        assert done.stderr.count("\n") == 1


def test_a_file_that_is_named_must_be_there(amp: Path) -> None:
    done = coldcheck("review", amp, COLDCHECK_TUBES=str(amp.with_name("none.toml")))
    assert done.returncode == 2
    expected = "expected the name of a file with a tube library in TOML"
    assert done.stderr.endswith(f"none.toml:1:1: found no such file, {expected}\n")


def test_a_file_without_types_is_none_the_worse(tmp_path: Path) -> None:
    file = tmp_path / "tubes.toml"
    for text in ("", "# nothing yet\n", "[tubes]\n"):
        file.write_text(text, encoding="utf-8")
        assert read_personal(file).own() == {}
    file.write_text('[tubes."a"]\nsource = "none"\n', encoding="utf-8")
    with pytest.raises(InputError, match='without "base"'):
        read_personal(file)
