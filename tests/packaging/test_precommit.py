"""The pre-commit hook, for real: pre-commit installs this tree and guards a scratch repository."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from commands import missing, must, run


def demo(checkout: Path, name: str) -> Path:
    file = checkout / "projects" / f"{name}.toml"
    if not file.is_file():
        missing(f"the demo {name} does not exist yet")
    return file


@pytest.fixture(scope="module")
def guarded(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A repository whose commits pass through the hook, and a pre-commit home of its own."""
    if run(sys.executable, "-m", "pre_commit", "--version", cwd=checkout).returncode != 0:
        missing("pre-commit is not installed")
    folder = tmp_path_factory.mktemp("guarded")
    repository = folder / "amplifiers"
    repository.mkdir()
    revision = must("git", "rev-parse", "HEAD", cwd=checkout).strip()
    must("git", "init", "-q", "-b", "main", cwd=repository)
    (repository / ".pre-commit-config.yaml").write_text(
        f"repos:\n- repo: {checkout.as_uri()}\n  rev: {revision}\n  hooks:\n  - id: coldcheck\n",
        encoding="utf-8",
    )
    home = {"PRE_COMMIT_HOME": str(folder / "home")}
    pre_commit = (sys.executable, "-m", "pre_commit")
    must(*pre_commit, "install", cwd=repository, **home)
    done = run(*pre_commit, "install-hooks", cwd=repository, **home)
    if done.returncode != 0:
        missing(f"the hook's requirements could not be installed: {done.stdout[-2000:]}")
    return repository


def commit(repository: Path, *files: Path) -> tuple[int, str]:
    """Try to commit the files: the status, and what was printed."""
    for file in files:
        shutil.copy(file, repository)
        must("git", "add", file.name, cwd=repository)
    home = {"PRE_COMMIT_HOME": str(repository.parent / "home")}
    done = run("git", "commit", "-m", "Try", cwd=repository, **home)
    if done.returncode != 0:
        must("git", "rm", "-q", "--cached", *(file.name for file in files), cwd=repository)
    return done.returncode, done.stdout + done.stderr


def test_a_clean_design_is_committed(guarded: Path, checkout: Path) -> None:
    status, said = commit(guarded, demo(checkout, "lantern"))
    assert status == 0, said


def test_a_draft_with_dangers_is_refused_with_a_report(guarded: Path, checkout: Path) -> None:
    status, said = commit(guarded, demo(checkout, "lantern-first-draft"))
    assert status != 0
    assert "  DANGER: " in said
    assert "Do not power this as drawn." in said
    assert "\x1b[2J" not in said
    assert max(map(len, said.splitlines())) <= 80


def test_other_toml_files_are_left_alone(guarded: Path, tmp_path: Path) -> None:
    other = tmp_path / "pyproject.toml"
    other.write_text("[project]\nname = 'elsewhere'\n", encoding="utf-8")
    status, said = commit(guarded, other)
    assert status == 0, said
    assert "Passed" in said


def test_a_document_that_cannot_be_read_is_refused(guarded: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text("format = 1\n[parts]\nR1 = {\n", encoding="utf-8")
    status, said = commit(guarded, broken)
    assert status != 0
    assert "broken.toml:" in said
    assert "Traceback" not in said
