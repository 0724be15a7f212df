"""``coldcheck state``: what the solvers made of a document, state by state."""

from __future__ import annotations

import argparse
import sys

from coldcheck.lint.cli import CLEAN, UNUSABLE
from coldcheck.lint.cli.arguments import use_colour, use_width


def run(options: argparse.Namespace) -> int:
    from coldcheck.lint.read.errors import InputError
    from coldcheck.lint.state_report import state_json, state_text

    try:
        if options.form == "json":
            import json

            text = json.dumps(state_json(options.file), allow_nan=False, indent=1, sort_keys=True)
        else:
            text = state_text(options.file, use_width(options), use_colour(options))
    except InputError as error:
        print(*(trouble.text() for trouble in error.troubles), sep="\n", file=sys.stderr)
        return UNUSABLE
    sys.stdout.write(text if text.endswith("\n") else f"{text}\n")
    return CLEAN
