"""``coldcheck demos``: the documents that come along, invented amplifiers to try a review on."""

from __future__ import annotations

import argparse
import os
import re
import sys

from coldcheck.lint.cli import CLEAN, Refusal
from coldcheck.lint.cli.arguments import nearest
from coldcheck.lint.cli.shipped import folder

SUFFIX = ".toml"


def run(options: argparse.Namespace) -> int:
    home = folder("projects")
    names = sorted(name.removesuffix(SUFFIX) for name in os.listdir(home) if name.endswith(SUFFIX))
    if options.name is None:
        widest = max(map(len, names), default=0)
        for name in names:
            text = _data(home, name).decode("utf-8")
            print(f"{name:<{widest}}  {_about(text)}".rstrip())
        return CLEAN
    name = options.name.removesuffix(SUFFIX)
    if name not in names:
        meant = nearest(name, names)
        raise Refusal(f"there is no demo {options.name!r}.{meant} `coldcheck demos` lists them.")
    # As bytes: what is piped to a review must not depend on the terminal's encoding.
    sys.stdout.flush()
    sys.stdout.buffer.write(_data(home, name))
    sys.stdout.buffer.flush()
    return CLEAN


def _data(home: str, name: str) -> bytes:
    with open(os.path.join(home, name + SUFFIX), "rb") as file:
        return file.read()


def _about(text: str) -> str:
    """The document's opening comment, or else what its project table says it is."""
    for line in text.splitlines():
        if line.startswith("#") and (comment := line.strip("# ")):
            return comment
        if line.strip():
            break
    said = re.findall(r'^(?:name|revision|duty)\s*=\s*"([^"]*)"', text, re.MULTILINE)
    return ", ".join(said)
