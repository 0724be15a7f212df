"""Data files that come with coldcheck, whether installed or run from a checkout."""

from __future__ import annotations

import os

import coldcheck


def folder(name: str) -> str:
    """The path of a folder of the package: ``projects``, ``schemas``."""
    return os.path.join(os.path.dirname(os.path.abspath(coldcheck.__file__)), name)
