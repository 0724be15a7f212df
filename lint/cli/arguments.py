"""What may be typed after ``coldcheck``; the bodies of commands are imported when they run."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import NoReturn

from coldcheck import __version__
from coldcheck.lint.cli import UNUSABLE, Refusal

Command = Callable[[argparse.Namespace], int]

ABOUT = "Reviews a vacuum-tube amplifier project before metal is drilled or power is applied."
AFTER = (
    "Voltages in tube amplifiers kill, also after the plug is pulled. No report replaces local "
    "electrical codes, a licensed person's judgement, or a meter."
)
FORMATS = ("console", "json", "sarif")
LEVELS = ("danger", "warning", "caution", "notice", "note")


def parse(arguments: Sequence[str] | None = None) -> argparse.Namespace:
    """The options, with ``run`` as the command to call; exits 0 for help, 2 for misuse."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    parser, names = _parser()
    if not given:
        parser.print_help(sys.stderr)
        raise SystemExit(UNUSABLE)
    if not given[0].startswith("-") and given[0] not in names:
        raise Refusal(
            f"there is no command {given[0]!r}.{nearest(given[0], names)} The commands are "
            f"{', '.join(names)}."
        )
    return parser.parse_args(given)


def nearest(word: str, known: Sequence[str]) -> str:
    """``" Did you mean 'x'?"`` when a known word is close, or nothing."""
    import difflib

    close = difflib.get_close_matches(word, known, n=1)
    return f" Did you mean {close[0]!r}?" if close else ""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise Refusal(f"{message}. `{self.prog} --help` shows what can be asked.")


def _parser() -> tuple[argparse.ArgumentParser, list[str]]:
    parser = _Parser(prog="coldcheck", description=ABOUT, epilog=AFTER, allow_abbrev=False)
    parser.add_argument("--version", action="version", version=f"coldcheck {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    def command(name: str, help: str, more: str = "") -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = commands.add_parser(
            name,
            help=help,
            description=f"{help[0].upper()}{help[1:]}.{' ' if more else ''}{more}",
            epilog=AFTER,
            allow_abbrev=False,
        )
        made.set_defaults(run=_later(name))
        return made

    _review(
        command(
            "review",
            "review documents and report what is wrong",
            "The exit status is 0 when nothing was found at or above the asked signal word, 1 when "
            "something was or when a rule of DANGER or WARNING could not judge, 2 when a document "
            "or the command could not be used.",
        )
    )
    rules = command("rules", "list the rules")
    rules.add_argument("area", nargs="?", metavar="AREA", help="only the rules of this area")
    _width(rules)
    rule = command("rule", "explain one rule")
    rule.add_argument("rule", metavar="RULE", help="its name, as in earth/hot-chassis")
    _width(rule)
    state = command("state", "show the computed voltages and currents of a document")
    state.add_argument("file", metavar="FILE", help="a document")
    _form(state, FORMATS[:2])
    _no_personal(state)
    state.add_argument("--plot", metavar="FOLDER", help="draw what was computed, as SVG files")
    chain = command("chain", "tell whether one project suits another that it feeds")
    chain.add_argument("first", metavar="FIRST", help="the document of what comes first")
    chain.add_argument("second", metavar="SECOND", help="the document of what it feeds")
    _form(chain, FORMATS[:2])
    _no_personal(chain)
    new = command("new", "write a commented starter document")
    new.add_argument("file", metavar="FILE", help="a file that does not exist yet")
    command("schema", "print the JSON Schema of a document, for editors that check TOML")
    demos = command("demos", "list the demo documents, or print one")
    demos.add_argument("name", nargs="?", metavar="NAME", help="the demo to print")
    return parser, list(commands.choices)


def _review(review: argparse.ArgumentParser) -> None:
    review.add_argument(
        "paths",
        nargs="+",
        metavar="PATH",
        help="documents, folders to search for them, or - for standard input",
    )
    _shape(review, FORMATS)
    review.add_argument("--to", metavar="FILE", help="write the report to FILE")
    review.add_argument(
        "--fail-from",
        choices=LEVELS,
        default="warning",
        metavar="WORD",
        help=f"the mildest signal word that makes the exit status 1: {', '.join(LEVELS)} "
        "(default: %(default)s)",
    )
    review.add_argument(
        "--let-open",
        action="store_true",
        help="do not count rules of DANGER or WARNING that could not judge",
    )
    review.add_argument(
        "--only",
        action="append",
        default=[],
        metavar="RULE_OR_AREA",
        help="report these rules only; may be given again",
    )
    review.add_argument("--passed", action="store_true", help="list what passed")
    review.add_argument(
        "--if-document",
        action="store_true",
        help="pass over named files that are not coldcheck documents (for commit hooks)",
    )
    _no_personal(review)


def _no_personal(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--no-personal",
        action="store_true",
        help="leave your own tube library unread, so that every machine reports alike",
    )


def _form(parser: argparse.ArgumentParser, formats: Sequence[str]) -> None:
    parser.add_argument(
        "--as",
        dest="form",
        choices=formats,
        default="console",
        metavar="FORMAT",
        help=f"the form of the report: {', '.join(formats)} (default: %(default)s)",
    )


def _shape(parser: argparse.ArgumentParser, formats: Sequence[str]) -> None:
    _form(parser, formats)
    parser.add_argument(
        "--colour",
        choices=("auto", "always", "never"),
        default="auto",
        metavar="WHEN",
        help="auto, always or never; auto leaves it out when NO_COLOR is set or no terminal reads",
    )
    _width(parser)


def _width(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--width", type=_columns, metavar="N", help="columns, 40 to 400")


def _columns(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 40 <= int(text[:9]) <= 400):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of columns from 40 to 400")
    return int(text)


def _later(name: str) -> Command:
    """The command's ``run``, imported when it is called."""

    def run(options: argparse.Namespace) -> int:
        command: Command = import_module(f"coldcheck.lint.cli.{name}").run
        return command(options)

    return run


def use_colour(options: argparse.Namespace) -> bool:
    """Whether console output may carry colour: the option first, then https://no-color.org."""
    if options.colour != "auto":
        return bool(options.colour == "always")
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return getattr(options, "to", None) is None and sys.stdout.isatty()


def use_width(options: argparse.Namespace) -> int:
    """Columns to fill: as asked, else the terminal's up to 100, else 80."""
    if options.width is not None:
        return int(options.width)
    if sys.stdout.isatty():
        import shutil

        return max(40, min(shutil.get_terminal_size().columns, 100))
    return 80
