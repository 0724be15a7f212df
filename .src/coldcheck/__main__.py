"""``python -m coldcheck`` is the ``coldcheck`` command."""

import sys

from coldcheck.lint.cli import main

if __name__ == "__main__":
    sys.exit(main())
