"""Recorded outputs: a report is compared with the file that holds it, byte for byte.

``COLDCHECK_RECORD=1 python -m pytest tests/reports`` writes the files anew; read the diff.
"""

from __future__ import annotations

import os
from pathlib import Path

RECORDED = Path(__file__).parent / "reports" / "recorded"


def same_as_recorded(name: str, text: str, folder: Path = RECORDED) -> None:
    """Assert that ``text`` is what ``recorded/name`` holds."""
    file = folder / name
    if os.environ.get("COLDCHECK_RECORD"):
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(text.encode("utf-8"))
    assert text == file.read_bytes().decode("utf-8")
