"""The builder's own tube library: a file of his, outside every project."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from pydantic import ValidationError

from coldcheck.lint.model import Place
from coldcheck.lint.read.errors import InputError, Trouble
from coldcheck.lint.read.problems import Problems
from coldcheck.lint.read.project import placed, troubles
from coldcheck.lint.read.toml import read_file
from coldcheck.lint.read.tube_types import TubeTypes
from coldcheck.schemas.tube_entry import OwnLibrary

VARIABLE = "COLDCHECK_TUBES"
"""Environment variable that names the file; set but empty, no file is read."""
FILE = Path("coldcheck", "tubes.toml")
_WHAT = "a tube library in TOML"


def personal_file(environment: Mapping[str, str], platform: str = sys.platform) -> Path | None:
    """The file to read, if any: the one the variable names, else the usual one where it exists.

    The usual one is ``coldcheck/tubes.toml`` in XDG_CONFIG_HOME (XDG Base Directory Specification
    0.8) or, where that is not set, in the platform's folder for such files.
    """
    named = environment.get(VARIABLE)
    if named is not None:
        return Path(named) if named else None
    folder = environment.get("XDG_CONFIG_HOME", "")
    if not os.path.isabs(folder):  # the specification has a relative one ignored
        home = environment.get("USERPROFILE" if platform == "win32" else "HOME", "")
        if platform == "win32" and environment.get("APPDATA"):
            folder = environment["APPDATA"]
        elif not home:
            return None
        elif platform == "darwin":
            folder = os.path.join(home, "Library", "Application Support")
        else:
            folder = os.path.join(home, ".config")
    usual = Path(folder) / FILE
    return usual if os.path.lexists(usual) else None


def read_personal(file: Path | None) -> TubeTypes:
    """The types of the file, before those of the shipped library; raises InputError."""
    if file is None:
        return TubeTypes()
    name = str(file)
    raw, positions = read_file(file, _WHAT)
    strange = [key for key in raw if key not in OwnLibrary.model_fields]
    if strange:
        raise InputError(
            *(
                Trouble(
                    Place(name, *positions.nearest((key,))),
                    f'"{key}"',
                    'tables such as [tubes."EBX1"] and nothing else',
                )
                for key in strange
            )
        )
    try:
        library = OwnLibrary.model_validate(raw)
    except ValidationError as wrong:
        raise InputError(*troubles(wrong, raw, positions, name)) from None
    problems = Problems()
    types = TubeTypes().with_entries(library.tubes, "personal", problems)
    if problems.found:
        raise InputError(*placed(problems.found, positions, name))
    return types
