"""``coldcheck new``: a starter document to fill in."""

from __future__ import annotations

import argparse
import os

from coldcheck.lint.cli import CLEAN, Refusal
from coldcheck.lint.cli.shipped import folder


def run(options: argparse.Namespace) -> int:
    with open(os.path.join(folder("schemas"), "starter.toml"), encoding="utf-8") as file:
        text = file.read()
    target = options.file
    try:
        with open(target, "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise Refusal(f"{target!r} exists already and is left as it is") from None
    except OSError as error:
        raise Refusal(f"{target!r} could not be written: {error.strerror}") from None
    print(f"Wrote {target}. Fill it in, then: coldcheck review {target}")
    return CLEAN
