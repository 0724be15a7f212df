"""What is installed is what is in the tree, whichever way it is installed."""

from __future__ import annotations

import os
import sys
import zipfile
from collections import Counter
from pathlib import Path

import pytest

from coldcheck import __version__
from commands import must

PACKAGED = ("lint", "projects", "rules", "schemas")
Pip = tuple[str, ...]


def packaged(tree: Path) -> set[str]:
    """The files a wheel must hold, by their names in it; none of them is generated."""
    files = {
        f"coldcheck/{path.relative_to(tree).as_posix()}"
        for folder in PACKAGED
        for path in (tree / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    return files | {f"coldcheck/{name}" for name in ("__init__.py", "__main__.py", "py.typed")}


def works_from(site: Path, tmp_path: Path, tree: Path) -> None:
    """The package in ``site`` starts away from the tree, and its data files came along."""

    def coldcheck(*arguments: str) -> str:
        return must(
            sys.executable, "-m", "coldcheck", *arguments, cwd=tmp_path, PYTHONPATH=str(site)
        )

    where = must(
        sys.executable,
        "-c",
        "import coldcheck; print(coldcheck.__file__)",
        cwd=tmp_path,
        PYTHONPATH=str(site),
    )
    assert Path(where.strip()).is_relative_to(site)
    assert coldcheck("--version") == f"coldcheck {__version__}\n"
    shipped = sorted(path.stem for path in (tree / "projects").glob("*.toml"))
    assert [line.split()[0] for line in coldcheck("demos").splitlines()] == shipped
    text = (tree / "projects" / f"{shipped[0]}.toml").read_text(encoding="utf-8")
    assert coldcheck("demos", shipped[0]) == text


@pytest.fixture
def target(pip: Pip, checkout: Path, tmp_path: Path) -> tuple[Pip, Path]:
    """pip's arguments for an installation of its own, and where that is."""
    site = tmp_path / "site"
    offline = ("--quiet", "--no-deps", "--no-build-isolation", "--no-compile")
    return (*pip, "install", *offline, "--target", str(site)), site


def test_a_wheel_holds_every_file_once(pip: Pip, checkout: Path, tmp_path: Path) -> None:
    must(
        *pip,
        "wheel",
        "--quiet",
        "--no-deps",
        "--no-build-isolation",
        "--wheel-dir",
        str(tmp_path),
        ".",
        cwd=checkout,
    )
    (wheel,) = tmp_path.glob("*.whl")
    names = Counter(zipfile.ZipFile(wheel).namelist())
    assert [name for name, count in names.items() if count > 1] == []
    held = {name for name in names if not name.startswith("coldcheck-")}
    assert held == packaged(checkout)
    assert {f"coldcheck/{folder}" for folder in PACKAGED} <= {
        "/".join(name.split("/")[:2]) for name in held
    }
    assert any(name.startswith("coldcheck/schemas/library/") for name in held)


def test_an_installation_from_the_tree_works(
    target: tuple[Pip, Path], checkout: Path, tmp_path: Path
) -> None:
    install, site = target
    must(*install, ".", cwd=checkout)
    works_from(site, tmp_path, checkout)
    script = site / "bin" / "coldcheck"
    if os.name != "nt":
        said = must(str(script), "--version", cwd=tmp_path, PYTHONPATH=str(site))
        assert said == f"coldcheck {__version__}\n"


def test_a_source_distribution_installs(
    target: tuple[Pip, Path], checkout: Path, tmp_path: Path
) -> None:
    install, site = target
    dist = tmp_path / "dist"
    must(sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", str(dist), cwd=checkout)
    (sdist,) = dist.glob("*.tar.gz")
    must(*install, str(sdist), cwd=tmp_path)
    works_from(site, tmp_path, checkout)


def test_an_installation_from_a_git_address_works(
    target: tuple[Pip, Path], checkout: Path, tmp_path: Path
) -> None:
    install, site = target
    must(*install, f"coldcheck @ git+{checkout.as_uri()}", cwd=tmp_path)
    works_from(site, tmp_path, checkout)


@pytest.mark.skipif(os.name == "nt", reason="the editable layout needs symbolic links")
def test_an_editable_installation_runs_the_tree_itself(
    pip: Pip, checkout: Path, tmp_path: Path
) -> None:
    prefix = tmp_path / "prefix"
    must(
        *pip,
        "install",
        "--quiet",
        "--no-deps",
        "--no-build-isolation",
        "--ignore-installed",
        "--prefix",
        str(prefix),
        "--editable",
        ".",
        cwd=checkout,
    )
    (site,) = prefix.glob("lib*/python*/site-packages")
    # -S keeps this environment's own editable installation out of the way.
    program = (
        f"import site; site.addsitedir({str(site)!r})\n"
        "import coldcheck.lint.cli.demos; print(coldcheck.lint.cli.demos.__file__)"
    )
    where = must(sys.executable, "-S", "-c", program, cwd=tmp_path, PYTHONPATH="").strip()
    assert Path(where).resolve() == checkout / "lint" / "cli" / "demos.py"
