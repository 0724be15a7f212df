"""``coldcheck schema``: the JSON Schema of the document, for an editor that knows TOML."""

from __future__ import annotations

import argparse
import os
import sys

from coldcheck.lint.cli import CLEAN
from coldcheck.lint.cli.shipped import folder


def run(options: argparse.Namespace) -> int:
    with open(os.path.join(folder("schemas"), "document.schema.json"), encoding="utf-8") as file:
        sys.stdout.write(file.read())
    return CLEAN
