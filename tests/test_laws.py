"""Laws of the house, read from the source itself: who may import whom, how long a file may be."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CODE = sorted(p for folder in ("lint", "rules", "schemas") for p in (ROOT / folder).rglob("*.py"))

# Layer (a prefix of the module's path) -> packages of ours and of others it may import.  The
# longest prefix that fits a file is its layer; the standard library is open to all.
MAY_IMPORT: dict[str, tuple[str, ...]] = {
    "lint/__init__.py": (),
    "schemas": ("coldcheck.schemas", "pydantic", "pydantic_core", "tomli"),
    "lint/model.py": (),
    "lint/signal.py": ("coldcheck.lint.model",),
    "lint/printing.py": (
        "coldcheck.lint.model",
        "coldcheck.lint.read.errors",
        "coldcheck.schemas.quantity",
    ),
    "lint/rulekit.py": (
        "coldcheck.lint.model",
        "coldcheck.lint.printing",
        # named for type checkers only: at run time a need is found by its name
        "coldcheck.lint.design",
        "coldcheck.lint.facts",
        "coldcheck.lint.graphs",
        "coldcheck.schemas.parts",
        "tomli",
    ),
    "lint/physics": ("coldcheck.lint.physics", "numpy"),
    "lint/design.py": ("coldcheck.lint.model", "coldcheck.schemas"),
    "lint/read": (
        "coldcheck.lint.design",
        "coldcheck.lint.model",
        "coldcheck.lint.read",
        "coldcheck.schemas",
        "pydantic",
        "pydantic_core",
        "tomli",
    ),
    "lint/graphs": (
        "coldcheck.lint.design",
        "coldcheck.lint.graphs",
        "coldcheck.lint.model",
        "coldcheck.schemas",
        "networkx",
    ),
    "lint/netlist": (
        "coldcheck.lint.design",
        "coldcheck.lint.graphs",
        "coldcheck.lint.model",
        "coldcheck.lint.netlist",
        "coldcheck.lint.physics",
        "coldcheck.schemas",
    ),
    "lint/facts": (
        "coldcheck.lint.design",
        "coldcheck.lint.facts",
        "coldcheck.lint.graphs",
        "coldcheck.lint.model",
        "coldcheck.lint.netlist",
        "coldcheck.lint.physics",
        "coldcheck.schemas",
        "numpy",
    ),
    "lint/engine": (
        "coldcheck.lint.design",
        "coldcheck.lint.engine",
        "coldcheck.lint.model",
        "coldcheck.lint.physics.circuit",
        "coldcheck.lint.read",
        "coldcheck.lint.rulekit",
        "coldcheck.lint.signal",
        "coldcheck.schemas.site",
        "tomli",
    ),
    "lint/reports": (
        "coldcheck",
        "coldcheck.lint.model",
        "coldcheck.lint.printing",
        "coldcheck.lint.reports",
        "coldcheck.lint.signal",
        "rich",
    ),
    "lint/state": (
        "coldcheck.lint.design",
        "coldcheck.lint.engine.study",
        "coldcheck.lint.facts",
        "coldcheck.lint.model",
        "coldcheck.lint.physics",
        "coldcheck.lint.printing",
        "coldcheck.lint.read",
        "coldcheck.lint.state",
        "coldcheck.schemas",
        "matplotlib",
        "numpy",
    ),
    "lint/cli": ("coldcheck", "rich"),
    "rules": ("coldcheck.lint.rulekit",),
}
STANDARD = frozenset(__import__("sys").stdlib_module_names)
LONGEST_FILE = 400


def layer_of(file: Path) -> str:
    name = file.relative_to(ROOT).as_posix()
    fits = [
        layer
        for layer in MAY_IMPORT
        if name == layer or name.startswith((f"{layer}/", f"{layer}."))
    ]
    return max(fits, key=len, default="")


def imports(file: Path) -> list[tuple[int, str]]:
    found: list[tuple[int, str]] = []
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file}:{node.lineno} imports relatively"
            # "from package import module" may name a module of the package
            module = node.module or ""
            inner = [f"{module}.{alias.name}" for alias in node.names]
            packages = [n for n in inner if (ROOT / _as_path(n)).exists()]
            found += [(node.lineno, name) for name in packages or [module]]
    return found


def _as_path(name: str) -> str:
    return name.removeprefix("coldcheck.").replace(".", "/") + ".py"


@pytest.mark.parametrize("file", CODE, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_imports_flow_one_way(file: Path) -> None:
    if file.name == "__init__.py" and not imports(file):
        return
    layer = layer_of(file)
    assert layer, f"{file} belongs to no layer"
    for line, name in imports(file):
        if name.split(".")[0] in STANDARD:
            continue
        allowed = any(name == ok or name.startswith(f"{ok}.") for ok in MAY_IMPORT[layer])
        assert allowed, f"{file}:{line} imports {name}, which {layer} may not"


@pytest.mark.parametrize("file", CODE, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_files_stay_short(file: Path) -> None:
    lines = len(file.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST_FILE, f"{file} has {lines} lines; ask what it hides"


def test_the_law_can_be_broken() -> None:
    """The check above sees an import that is not allowed."""
    assert layer_of(ROOT / "rules/earth/x.py") == "rules"
    assert not any("numpy".startswith(ok) for ok in MAY_IMPORT["rules"])
    assert layer_of(ROOT / "lint/physics/dc.py") == "lint/physics"


def test_schema_file_is_in_step() -> None:
    from coldcheck.schemas.export import FILE, schema_text

    assert FILE.read_text(encoding="utf-8") == schema_text(), (
        "run: python -m coldcheck.schemas.export"
    )
