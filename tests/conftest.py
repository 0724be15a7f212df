"""Fixtures for every test."""

from __future__ import annotations

import gc
import importlib
import os
import shutil
from types import ModuleType
from typing import Any

import pytest
from hypothesis import settings

# Before any test imports numpy; why, see coldcheck.lint.physics.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# The same examples every time where a gate runs; others at a desk.
settings.register_profile("gate", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("gate")
# As the command does without it: a sixth of a review is looking for cyclic garbage there is none of.
gc.set_threshold(200_000, 20, 20)
# What a developer keeps in a tube library of his own must not decide a test.
os.environ["COLDCHECK_TUBES"] = ""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """With several processes (``-n``), keep together what shares a computation: a file, a rule's
    scenes, which several files play."""
    from xdist.scheduler import LoadScopeScheduling

    class Together(LoadScopeScheduling):  # type: ignore[misc]
        def _split_scope(self, nodeid: str) -> str:
            file, _, rest = nodeid.partition("::")
            rule = rest.partition("[")[2].partition(":")[0].rstrip("]")
            return rule if file.startswith("tests/rules/") and "/" in rule else file

    return Together(config, log)


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
