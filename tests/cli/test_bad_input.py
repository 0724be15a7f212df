"""Input that cannot be reviewed: one clear message on standard error, status 2, no traceback."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from coldcheck.lint.cli import main

ROOT = Path(__file__).parents[2]
HEAD = b'format = 1\n[project]\nname = "x"\n'
WHOLE = (
    HEAD
    + b"""revision = "B"
duty = "supply"
[site]
mains = { voltage = "230 V", frequency = "50 Hz", tolerance = "10 %" }
ambient = "30 degC"
[parts]
R1 = { kind = "resistor", value = "10k", power = "2 W" }
[schematic]
R1 = ["B1", "0V"]
"""
)
Capture = pytest.CaptureFixture[str]

# The bytes of a file, and how the line on standard error begins and goes on.
BAD: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "1:1: found an empty file, expected a project document in TOML"),
    "only blanks": (b" \n\n\t\n", "1:1: found an empty file, expected a project document"),
    "only remarks": (b"# format = 1\n", "1:1: found no keys, expected a project document"),
    "truncated in a table": (
        WHOLE[: WHOLE.index(b", power")],
        '10:40: found the end of the file, expected a comma or "}"',
    ),
    "truncated in a text": (
        WHOLE[: WHOLE.index(b"10k") + 2],
        "10:38: found the end of the file, expected a closing quote",
    ),
    "binary": (b"\x7fELF\x02\x01\x01\x00" * 64, "1:8: found a NUL character"),
    "picture": (b"\x89PNG\r\n\x1a\n\x00\x00", "1:1: found byte 0x89, expected text in UTF-8"),
    "UTF-16": (WHOLE.decode().encode("utf-16"), "1:1: found UTF-16 text"),
    "Latin-1": ("# Röhre\n".encode("latin-1") + WHOLE, "1:4: found byte 0xf6, expected text in"),
    "a zero byte": (HEAD + b"\0", "4:1: found a NUL character"),
    "deep lists": (b"a = " + b"[" * 50_000, "1:37: found tables nested more than 32 deep"),
    "deep tables": (b"[" + b"a." * 40_000 + b"a]\n", "found tables nested more than 32 deep"),
    "a key twice": (
        WHOLE.replace(b'revision = "B"', b'revision = "B"\nrevision = "C"', 1),
        'found "revision" a second time, expected each key and table once; it is first written on',
    ),
    "a part twice": (
        WHOLE.replace(b"[parts]\n", b'[parts]\nR1 = { kind = "lamp" }\n', 1),
        'found "R1" a second time',
    ),
    "a table twice": (WHOLE + b"\n[site]\n", 'found "site" a second time'),
    "no quotes": (
        WHOLE.replace(b'value = "10k"', b"value = 10k", 1),
        '10:35: found "10k", expected a value: text in quotes',
    ),
    "no unit": (
        WHOLE.replace(b'power = "2 W"', b'power = "2"', 1),
        'found power = "2", expected a power such as "1/2 W" or "5 W"; the unit is missing',
    ),
    "another type": (
        WHOLE.replace(b'value = "10k"', b"value = 10000", 1),
        'found value = 10000, expected text with its unit, such as "47k"',
    ),
    "a list for a table": (b"format = 1\nparts = []\n", "found parts = an empty list, expected a"),
    "another program's file": (
        b'[tool]\nname = "x"\n',
        'found unknown key "tool", expected one of accept, channel,',
    ),
    "JSON": (b'{"format": 1}\n', '1:1: found "{", expected a'),
    "a huge number": (b"format = " + b"9" * 5000 + b"\n", "1:10: found a number of thousands of"),
    "a number beyond 64 bits": (b"format = 9223372036854775808\n", "1:10: found a number beyond 64"),
    "too large": (b"#" * 1_000_001, "found 1000001 bytes, expected a project document of at most"),
}  # fmt: skip


@pytest.fixture(autouse=True)
def in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLDCHECK_TRACE", raising=False)


def refused(capsys: Capture, *arguments: str) -> str:
    """Run a command that must refuse; what it says."""
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.endswith("\n") and err.count("\n") <= 8
    assert "Traceback" not in err and "sorry" not in err
    assert all(line.isprintable() for line in err.splitlines())
    return err


@pytest.mark.parametrize("command", ["review", "state"])
@pytest.mark.parametrize("name", BAD)
def test_a_file_that_is_no_document(name: str, command: str, capsys: Capture) -> None:
    data, expected = BAD[name]
    Path("amp.toml").write_bytes(data)
    said = refused(capsys, command, "amp.toml")
    lines = said.splitlines()
    assert all(line.startswith("amp.toml:") for line in lines)
    assert any(expected in line for line in lines), said


@pytest.mark.parametrize("command", ["review", "state"])
def test_a_file_of_fifty_megabytes_is_not_read(command: str, capsys: Capture) -> None:
    with open("amp.toml", "wb") as file:
        file.truncate(50_000_000)
    said = refused(capsys, command, "amp.toml")
    assert said == (
        "amp.toml:1:1: found 50000000 bytes, expected a project document of at most 1000000 bytes\n"
    )


@pytest.mark.parametrize("command", ["review", "state"])
def test_a_missing_file_is_named(command: str, capsys: Capture) -> None:
    said = refused(capsys, command, "none.toml")
    assert "none.toml" in said and said.count("\n") == 1


@pytest.mark.parametrize("name", ["", "\n", "a\x1b[2Jb", "\0", "x" * 5000])
def test_a_name_that_cannot_be_a_file(name: str, capsys: Capture) -> None:
    assert refused(capsys, "review", name).count("\n") == 1


def test_a_folder_without_documents_is_named(capsys: Capture) -> None:
    Path("notes").mkdir()
    Path("notes/readme.toml").write_text('title = "no document"\n', encoding="utf-8")
    assert refused(capsys, "review", "notes") == (
        "coldcheck: no coldcheck document was found in notes\n"
    )


def test_a_folder_for_state_is_named(capsys: Capture) -> None:
    Path("notes").mkdir()
    assert refused(capsys, "state", "notes").startswith("notes:1:1: found a folder, expected")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read every file")
def test_a_file_that_may_not_be_read_is_named(capsys: Capture) -> None:
    Path("amp.toml").write_bytes(WHOLE)
    Path("amp.toml").chmod(0)
    said = refused(capsys, "review", "amp.toml")
    assert said.startswith("amp.toml:1:1: found a file that cannot be read: permission denied")


def test_a_file_that_cannot_be_read_is_named(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("amp.toml").write_bytes(WHOLE)

    def forbidden(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("coldcheck.lint.read.toml.open", forbidden, raising=False)
    said = refused(capsys, "review", "amp.toml")
    assert said.startswith("amp.toml:1:1: found a file that cannot be read: permission denied")


@pytest.mark.parametrize(("data", "found"), [(b"", "an empty file"), (b"x", "the end of the")])
def test_standard_input_that_is_no_document(
    data: bytes, found: str, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
    said = refused(capsys, "review", "-")
    assert said.startswith("standard input:1:") and f"found {found}" in said


def test_one_bad_file_among_good_ones_does_not_hide_them(capsys: Capture) -> None:
    Path("good.toml").write_bytes(WHOLE)
    Path("bad.toml").write_bytes(WHOLE.replace(b"format = 1", b"format = 2"))
    assert main(["review", "--only", "stored-energy", "good.toml", "bad.toml"]) == 2
    out, err = capsys.readouterr()
    assert "Review of x" in out
    assert err.startswith("bad.toml:") and "found format = 2, expected 1" in err


def test_the_command_itself_leaves_no_traceback() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "coldcheck", "review", "-"],
        input=b"\xff\xfe\x00",
        env={**os.environ, "PYTHONPATH": str(ROOT / ".src")},
        capture_output=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stdout == b""
    assert done.stderr.startswith(b"standard input:1:1: found UTF-16 text")
    assert done.stderr.count(b"\n") == 1
