"""``coldcheck rule``: the page of one rule."""

from __future__ import annotations

import argparse
import sys

from coldcheck.lint.cli import CLEAN, Refusal
from coldcheck.lint.cli.arguments import nearest, use_width


def run(options: argparse.Namespace) -> int:
    from coldcheck.lint.engine.catalogue import cards
    from coldcheck.lint.engine.stories import story
    from coldcheck.lint.reports.rulepage import page

    known = {card.rule: card for card in cards()}
    card = known.get(options.rule)
    if card is None:
        raise Refusal(
            f"there is no rule {options.rule!r}.{nearest(options.rule, sorted(known))} "
            "`coldcheck rules` lists them."
        )
    sys.stdout.write(page(card, story(card.rule), use_width(options)))
    return CLEAN
