"""The ``coldcheck`` command: arguments in, exit status out, and never a traceback.

Exit status: 0 nothing at or above the asked word; 1 findings, or a review that is not whole;
2 the input or the command could not be used.  130 after an interrupt, and 141 when the reader of
a pipe has left, as shells expect.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

CLEAN, FOUND, UNUSABLE, INTERRUPTED, READER_LEFT = 0, 1, 2, 130, 141


class Refusal(Exception):
    """A command that cannot be carried out; the message says why, and what would work."""


def command() -> int:
    """The command in a process of its own, which is soon over.

    Cyclic garbage is not looked for: not while modules load, and not once more at the end, where
    it would cost a sixth of a review.
    """
    gc.disable()
    # pydantic would look through all that is installed for extensions, which a review has no use for
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        return main(alone=True)
    finally:
        gc.freeze()


def main(arguments: Sequence[str] | None = None, *, alone: bool = False) -> int:
    """Run the command and return its exit status.

    ``alone``: the process is there for nothing else, and may copy itself to be done sooner.
    """
    from coldcheck.lint.cli.arguments import parse

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            # A terminal without a sign for ohms must not end the run.
            stream.reconfigure(errors="backslashreplace")
    try:
        options = parse(arguments)
        options.alone = alone
        status: int = options.run(options)
        sys.stdout.flush()
    except Refusal as refusal:
        print(f"coldcheck: {refusal}", file=sys.stderr)
        return UNUSABLE
    except BrokenPipeError:
        # Python flushes once more at exit; there is nobody left to read it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return READER_LEFT
    except KeyboardInterrupt:
        print("coldcheck: interrupted", file=sys.stderr)
        return INTERRUPTED
    except Exception as error:
        if os.environ.get("COLDCHECK_TRACE"):
            raise
        print(f"coldcheck: {_apology(error)}", file=sys.stderr)
        return UNUSABLE
    return status


def _apology(error: Exception) -> str:
    """One line on a fault of ours: what it was, and where our code was last seen."""
    import traceback

    where, home = "an unknown place", _home() + os.sep
    for frame in traceback.extract_tb(error.__traceback__):
        if frame.filename.startswith(home):
            where = f"{frame.filename.removeprefix(home)}:{frame.lineno}"
    return (
        f"sorry, {type(error).__name__} at {where}. This is a fault in coldcheck, not in the "
        "design, and the work was not finished; COLDCHECK_TRACE=1 shows the whole of it."
    )


def _home() -> str:
    import coldcheck

    return os.path.dirname(os.path.abspath(coldcheck.__file__))
