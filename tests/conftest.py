"""Fixtures for every test."""

from __future__ import annotations

import importlib
import os
import shutil
from types import ModuleType

import pytest

# Before any test imports numpy; why, see coldcheck.lint.physics.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# What a developer keeps in a tube library of his own must not decide a test.
os.environ["COLDCHECK_TUBES"] = ""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """With several processes (``-n``), keep together what shares a computation: a rule's scenes, a file."""
    for item in items:
        given = (
            item.callspec.params
            if isinstance(item, pytest.Function) and hasattr(item, "callspec")
            else {}
        )
        shared = given.get("rule") or given.get("name", "")
        whole = item.path.parent.name == "rules" and isinstance(shared, str) and "/" in shared
        group = shared.partition(": ")[0] if whole else f"{item.path.parent.name}/{item.path.stem}"
        item.add_marker(pytest.mark.xdist_group(group))


@pytest.fixture(scope="session")
def spice() -> ModuleType:
    """The module ``tests/physics/spice.py``: our circuits run by ngspice.

    Mark its users ``@pytest.mark.ngspice``.  Without ngspice they are skipped, but fail where
    the environment says ``CI``, so that the comparison cannot quietly stop happening there.
    """
    if shutil.which("ngspice") is None:
        if os.environ.get("CI"):
            pytest.fail("ngspice is missing; install the package ngspice")
        pytest.skip("ngspice is not installed")
    return importlib.import_module("physics.spice")
