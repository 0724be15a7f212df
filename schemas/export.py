"""The JSON Schema of the project document, for editors that complete and check TOML.

``python -m coldcheck.schemas.export`` rewrites ``document.schema.json`` beside this file.
"""

from __future__ import annotations

import json
from pathlib import Path

from pydantic.json_schema import GenerateJsonSchema

from coldcheck.schemas.document import Document

FILE = Path(__file__).with_name("document.schema.json")


def schema_text() -> str:
    """The schema as it should stand in the file, in draft 2020-12."""
    schema = Document.model_json_schema()
    head = {"$schema": GenerateJsonSchema.schema_dialect, "title": "coldcheck project document"}
    return json.dumps({**schema, **head}, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FILE.write_text(schema_text(), encoding="utf-8")
