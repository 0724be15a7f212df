"""The JSON Schema takes what the reader takes, so that an editor and a review agree."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from coldcheck.schemas.document import Document
from coldcheck.schemas.export import FILE
from coldcheck.schemas.fields import SHAPES
from documents import DEMOS, STARTER, parsed

SCHEMA = json.loads(FILE.read_text(encoding="utf-8"))
FILES = [*DEMOS, STARTER]


def plain(value: Any) -> Any:
    """TOML as an editor hands it to a schema: dates are texts."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def faults(document: Any) -> list[str]:
    return [error.message for error in Draft202012Validator(SCHEMA).iter_errors(plain(document))]


def test_the_schema_is_one_of_its_draft() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_shipped_documents_are_valid(file: Any) -> None:
    assert faults(parsed(file)) == []


SLIPS: dict[str, tuple[tuple[str | int, ...], Any]] = {
    "a misspelt chapter": (("layuot",), {}),
    "a misspelt key of a part": (("parts", "C1", "voltge"), "450 V"),
    "a misspelt key of the mains": (("site", "mains", "freqency"), "50 Hz"),
    "a kind there is not": (("parts", "C1", "kind"), "condenser"),
    "a number where text belongs": (("parts", "R1", "value"), 1000),
    "a reference that is none": (("parts", "1R"), {"kind": "resistor", "value": "1k"}),
    "a word that is no choice": (("parts", "R1", "style"), "carbon"),
    "a name with a space at its end": (("schematic", "R1"), ["B1 ", "0V"]),
    "a list for a table": (("schematic",), []),
    "another format": (("format",), 2),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_slips_are_seen_by_the_schema_and_by_the_reader(slip: str) -> None:
    path, value = SLIPS[slip]
    document = copy.deepcopy(parsed(STARTER))
    here: Any = document
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = value
    assert faults(document)
    with pytest.raises(ValueError, match="validation error"):
        Document.model_validate(document)


def test_every_required_key_is_required_by_the_schema() -> None:
    document = parsed(STARTER)
    for key in ("format", "project", "site", "parts"):
        assert faults({name: value for name, value in document.items() if name != key})


def patterns(here: Any) -> set[str]:
    """Every pattern the schema holds for a text or a key."""
    found: set[str] = set()
    if isinstance(here, dict):
        for key, value in here.items():
            if key == "pattern" and isinstance(value, str):
                found.add(value)
            elif key == "patternProperties":
                found |= set(value)
            found |= patterns(value)
    elif isinstance(here, list):
        for value in here:
            found |= patterns(value)
    return found


def test_every_pattern_has_words_for_a_builder() -> None:
    assert patterns(SCHEMA) == set(SHAPES)
