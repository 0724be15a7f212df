"""The JSON Schema of the project document, for editors that complete and check TOML.

``python -m coldcheck.schemas.export`` rewrites ``document.schema.json`` beside this file.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from coldcheck.schemas.document import Document

FILE = Path(__file__).with_name("document.schema.json")


def schema_text() -> str:
    """The schema as it should stand in the file, in draft 2020-12."""
    schema = _closed(Document.model_json_schema())
    head = {"$schema": GenerateJsonSchema.schema_dialect, "title": "coldcheck project document"}
    return json.dumps({**schema, **head}, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def _closed(here: Any) -> Any:
    """The schema with no other keys allowed in tables whose keys have a pattern.

    JSON Schema leaves a key that no pattern fits unchecked; the reader refuses it.
    """
    if isinstance(here, dict):
        here = {key: _closed(value) for key, value in here.items()}
        if "patternProperties" in here:
            here.setdefault("additionalProperties", False)
        return here
    return [_closed(value) for value in here] if isinstance(here, list) else here


if __name__ == "__main__":
    FILE.write_text(schema_text(), encoding="utf-8")
