"""``coldcheck rules``: the list of rules, or the page of one."""

from __future__ import annotations

import argparse
import sys

from coldcheck.lint.cli import CLEAN, Refusal
from coldcheck.lint.cli.arguments import nearest, use_width


def run(options: argparse.Namespace) -> int:
    from coldcheck.lint.engine.catalogue import cards, catalogue
    from coldcheck.lint.engine.stories import story
    from coldcheck.lint.reports.rulepage import listing, page

    known = {card.rule: card for card in cards()}
    width = use_width(options)
    name = options.rule
    if name is None:
        sys.stdout.write(listing(known.values(), width, catalogue().notes))
    elif name in known:
        sys.stdout.write(page(known[name], story(name), width))
    elif area := [card for rule, card in known.items() if rule.startswith(f"{name}/")]:
        sys.stdout.write(listing(area, width))
    else:
        areas = {rule.rpartition("/")[0] for rule in known}
        raise Refusal(
            f"there is no rule or area {name!r}.{nearest(name, sorted({*known, *areas}))} "
            "`coldcheck rules` lists them."
        )
    return CLEAN
