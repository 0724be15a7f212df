"""Running other programs in tests, away from the caller's git settings and identity."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path
from typing import NoReturn

import pytest

ROOT = Path(__file__).parents[1]
IDENTITY = {
    f"GIT_{who}_{what}": value
    for who in ("AUTHOR", "COMMITTER")
    for what, value in (("NAME", "Test"), ("EMAIL", "test@invalid"))
}
ENVIRONMENT = {
    **{name: value for name, value in os.environ.items() if not name.startswith("GIT_")},
    **IDENTITY,
    "GIT_CONFIG_GLOBAL": os.devnull,
    "PIP_DISABLE_PIP_VERSION_CHECK": "1",
    "PIP_ROOT_USER_ACTION": "ignore",
}


def missing(what: str) -> NoReturn:
    """Skip on a builder's machine, fail where everything must be had."""
    if os.environ.get("CI"):
        pytest.fail(what)
    pytest.skip(what)


def run(*command: str, cwd: Path, **variables: str) -> subprocess.CompletedProcess[str]:
    """A command, its output kept; the caller judges its status."""
    return subprocess.run(
        command,
        cwd=cwd,
        env={**ENVIRONMENT, **variables},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )


def must(*command: str, cwd: Path, **variables: str) -> str:
    """The output of a command that has to succeed."""
    done = run(*command, cwd=cwd, **variables)
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout
