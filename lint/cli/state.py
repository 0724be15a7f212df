"""``coldcheck state``: what the solvers made of a document, state by state."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from coldcheck.lint.cli import CLEAN, UNUSABLE, Refusal
from coldcheck.lint.cli.documents import own_tubes


def run(options: argparse.Namespace) -> int:
    from coldcheck.lint.read.errors import InputError
    from coldcheck.lint.state.values import study_of, values

    try:
        study = study_of(options.file, own_tubes(options.no_personal))
    except InputError as error:
        print(*(trouble.text() for trouble in error.troubles), sep="\n", file=sys.stderr)
        return UNUSABLE
    if options.plot is not None:
        _draw(study, Path(options.plot))
    told = values(study)
    if options.form == "json":
        import json

        print(json.dumps(told, allow_nan=False, indent=1, sort_keys=True))
    else:
        from coldcheck.lint.state.text import text

        sys.stdout.write(text(told))
    return CLEAN


def _draw(study: object, folder: Path) -> None:
    """Write the drawings; raises Refusal when that cannot be."""
    from coldcheck.lint.state.drawings import draw

    try:
        written, missing = draw(study, folder)  # type: ignore[arg-type]
    except ImportError:
        extra = "pip install 'coldcheck[plot]'"
        raise Refusal(f"--plot needs matplotlib, which is not installed: {extra}") from None
    except OSError as error:
        raise Refusal(f"nothing can be written to {str(folder)!r}: {error.strerror}") from None
    for sentence in missing:
        print(sentence, file=sys.stderr)
    print(f"{len(written)} drawings are in {folder}.", file=sys.stderr)
