"""``coldcheck rules``: the list of rules, or those of one area."""

from __future__ import annotations

import argparse
import sys

from coldcheck.lint.cli import CLEAN, Refusal
from coldcheck.lint.cli.arguments import nearest, use_width


def run(options: argparse.Namespace) -> int:
    from coldcheck.lint.engine.catalogue import cards, catalogue
    from coldcheck.lint.reports.rulepage import listing

    every = cards()
    listed = [c for c in every if options.area in (None, c.rule.rpartition("/")[0])]
    if not listed:
        areas = sorted({card.rule.rpartition("/")[0] for card in every})
        raise Refusal(
            f"there is no area {options.area!r}.{nearest(options.area, areas)} "
            f"The areas are {', '.join(areas)}."
        )
    sys.stdout.write(listing(listed, use_width(options), catalogue().notes))
    return CLEAN
