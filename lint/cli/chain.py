"""``coldcheck chain``: whether one project suits the other that it feeds."""

from __future__ import annotations

import argparse
import sys

from coldcheck.lint.cli import CLEAN, UNUSABLE, Refusal
from coldcheck.lint.cli.documents import own_tubes


def run(options: argparse.Namespace) -> int:
    from coldcheck.lint.model import Missing, NothingToJudge
    from coldcheck.lint.physics.circuit import NotSolved
    from coldcheck.lint.read.errors import InputError
    from coldcheck.lint.state.chain import chain, text
    from coldcheck.lint.state.values import study_of

    types = own_tubes(options.no_personal)
    try:
        first, second = (study_of(file, types) for file in (options.first, options.second))
    except InputError as error:
        print(*(trouble.text() for trouble in error.troubles), sep="\n", file=sys.stderr)
        return UNUSABLE
    try:
        told = chain(first, second)
    except Missing as gap:
        raise Refusal(f"that cannot be said without {gap.datum}") from None
    except (NotSolved, NothingToJudge) as trouble:
        raise Refusal(f"that cannot be said: {trouble}") from None
    if options.form == "json":
        import json

        print(json.dumps(told, allow_nan=False, indent=1, sort_keys=True))
    else:
        sys.stdout.write(text(told))
    return CLEAN
