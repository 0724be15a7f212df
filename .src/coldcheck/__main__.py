"""``python -m coldcheck`` is the ``coldcheck`` command."""

import sys

from coldcheck.lint.cli import command

if __name__ == "__main__":
    sys.exit(command())
