"""Drawings of what was computed: one file each, the same bytes each time, names in the text."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from coldcheck.lint.cli import main
from documents import ROOT, STARTER

Capture = pytest.CaptureFixture[str]
LANTERN = str(ROOT / "projects" / "lantern.toml")


def texts(file: Path) -> str:
    return " ".join(re.findall(r">([^<>]+)</text>", file.read_text("utf-8")))


def test_every_drawing_is_made_and_says_what_it_shows(tmp_path: Path, capsys: Capture) -> None:
    folder = tmp_path / "drawings"
    assert main(["state", LANTERN, "--plot", str(folder)]) == 0
    assert capsys.readouterr().err == f"6 drawings are in {folder}.\n"
    names = {file.stem: texts(file) for file in folder.iterdir()}
    assert set(names) == {
        "start-up", "ripple", "discharge", "load-line-V1.1", "load-line-V1.2", "load-line-V2",
    }  # fmt: skip
    for net in ("B1", "B2", "B3"):
        assert net in names["start-up"] and net in names["ripple"]
    assert "C2: mains off" in names["discharge"] and "60 V" in names["discharge"]
    assert "rated 12 W" in names["load-line-V2"]
    assert "load at 1 kHz, 5.5" in names["load-line-V2"]  # 5 k reflected, and the wire of T2


def test_the_same_design_is_drawn_the_same(tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert main(["state", LANTERN, "--plot", str(tmp_path / name)]) == 0
    for file in (tmp_path / "one").iterdir():
        assert file.read_bytes() == (tmp_path / "two" / file.name).read_bytes()


def test_what_cannot_be_drawn_is_said(tmp_path: Path, capsys: Capture) -> None:
    text = STARTER.read_text("utf-8").replace('type = "6SN7GTB"', 'type = "9X9"')
    (tmp_path / "amp.toml").write_text(text, encoding="utf-8")
    assert main(["state", str(tmp_path / "amp.toml"), "--plot", str(tmp_path)]) == 0
    assert "ripple: not drawn, needs data for tube type 9X9" in capsys.readouterr().err


def test_a_folder_that_cannot_be_written_is_refused(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    assert main(["state", LANTERN, "--plot", str(tmp_path / "taken")]) == 2
    assert "nothing can be written to" in capsys.readouterr().err


def test_without_matplotlib_the_remedy_is_said(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    assert main(["state", LANTERN, "--plot", str(tmp_path)]) == 2
    assert "pip install 'coldcheck[plot]'" in capsys.readouterr().err
