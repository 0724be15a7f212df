"""A copy of this tree as a git repository of its own, and the pip to install it with."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from commands import ROOT, missing, must, run


@pytest.fixture(scope="session")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """This tree, committed to a fresh repository with one commit."""
    if shutil.which("git") is None:
        missing("git is not installed")
    copy = tmp_path_factory.mktemp("checkout") / "coldcheck"
    junk = shutil.ignore_patterns(
        ".git", "__pycache__", ".*_cache", ".hypothesis", ".venv", "build", "dist"
    )
    shutil.copytree(ROOT, copy, symlinks=True, ignore=junk)
    must("git", "init", "-q", "-b", "main", cwd=copy)
    must("git", "add", "-A", cwd=copy)
    must("git", "commit", "-q", "-m", "A copy", cwd=copy)
    return copy


@pytest.fixture(scope="session")
def pip() -> tuple[str, ...]:
    """pip in this environment, told to use the build backend that is installed here."""
    for module in ("pip", "hatchling"):
        if run(sys.executable, "-c", f"import {module}", cwd=ROOT).returncode != 0:
            missing(f"{module} is not installed")
    return (sys.executable, "-m", "pip")
