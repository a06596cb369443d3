"""The commands: thin, and quick to load; what they need is imported when they run."""

from __future__ import annotations

import argparse
import codecs
import os
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, NoReturn

from coach import __version__
from coach.commands import WRONG_COMMAND, WRONG_INPUT
from coach.ground.clean import clean_lines
from coach.ground.errors import CoachError

_SPELLED = {"“": '"', "”": '"', "’": "'", "−": "-", "…": ".", "°": " deg", "×": "x", "≤": "<="}


class _Parser(argparse.ArgumentParser):
    def _print_message(self, message: str, file: Any = None) -> None:
        """As ever, but what can't be written isn't passed over."""
        if message and (target := file or sys.stderr) is not None:
            target.write(message)

    def error(self, message: str) -> NoReturn:
        self.exit(WRONG_COMMAND, clean_lines(f"{self.prog}: {message}; see {self.prog} --help") + "\n")


def _parser() -> argparse.ArgumentParser:
    common = _Parser(add_help=False)
    common.add_argument(
        "--shop", type=Path, metavar="FILE", default=argparse.SUPPRESS, help="a shop file other than your own"
    )
    common.add_argument("--data", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="the folder of the record")
    common.add_argument(
        "--units", choices=("in", "mm"), default=argparse.SUPPRESS, help="show lengths of wood in this unit"
    )
    common.add_argument(
        "--key-guard",
        type=_guard,
        metavar="SECONDS",
        default=argparse.SUPPRESS,
        help="how long a step must be on the screen before a key completes it (0 to 5, else 0.5)",
    )
    parser = _Parser(
        prog="coach",
        description="Walks you through a batch of dovetail cuts at the bandsaw. Without a command it opens the app.",
        parents=[common],
    )
    parser.add_argument("--version", action="version", version=f"coach {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)
    _add_new_record(parser)
    run = commands.add_parser("run", parents=[common], help="start a batch, or carry one on, at its next step")
    run.add_argument("layouts", nargs="*", type=Path, metavar="LAYOUT", help="layout files")
    run.add_argument("--batch", metavar="NAME", help="the batch's name; alone, the batch to carry on")
    smallest = "start with the smallest mark, not the largest"
    run.add_argument("--smallest-first", action="store_true", help=smallest)
    run.add_argument(
        "--plain",
        action="store_true",
        help="as plain lines, a step for each Enter: by ear, without a screen, for a log",
    )
    _add_new_record(run)
    plan = commands.add_parser("plan", parents=[common], help="print settings, turns and totals")
    plan.add_argument("layouts", nargs="+", type=Path, metavar="LAYOUT")
    plan.add_argument("--json", action="store_true", help="as JSON, for other programs")
    plan.add_argument("--smallest-first", action="store_true", help=smallest)
    plan.add_argument("--why", action="store_true", help="why no fewer settings and turns do, and what rounding shifts")
    plan.add_argument("--spacers", action="store_true", help="spacers or your own blocks instead of the scale")
    plan.add_argument("--stop-block", action="store_true", help="where a stop on the jig's travel goes")
    check = commands.add_parser("check", parents=[common], help="validate layouts and saw them on a virtual saw")
    check.add_argument("layouts", nargs="+", type=Path, metavar="LAYOUT")
    fit = commands.add_parser("fit", parents=[common], help="propose marks that fall on the scale's graduations")
    fit.add_argument("layout", type=Path, metavar="LAYOUT")
    fit.add_argument("--write", type=Path, metavar="FILE", help="save the fitted layout as a new file")
    family = commands.add_parser(
        "family", parents=[common], help="propose layouts for a family of drawers that share their fence settings"
    )
    family.add_argument("family", type=Path, metavar="FILE", help="widths, and ranges for tails and pins")
    family.add_argument("--write", type=Path, metavar="DIR", help="save the layouts as new files, one for each drawer")
    family.add_argument(
        "--seconds", type=_seconds, metavar="N", help="end the search after so long, with the best so far"
    )
    log = commands.add_parser("log", parents=[common], help="which boards were cut, when, and what is left")
    log.add_argument("batch", nargs="?", metavar="BATCH", help="the name of a batch; all of them without it")
    form = log.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="every event, as JSON")
    form.add_argument("--csv", action="store_true", help="every event, as CSV")
    export = commands.add_parser("export", parents=[common], help="write a batch to a file, for another computer")
    export.add_argument("batch", metavar="BATCH", help="the name of a batch")
    export.add_argument("file", type=Path, metavar="FILE", help="a new file")
    take = commands.add_parser("import", parents=[common], help="take a batch from a file that export wrote")
    take.add_argument("file", type=Path, metavar="FILE")
    take.add_argument("--batch", metavar="NAME", help="another name for it")
    _add_new_record(take)
    commands.add_parser("recover", parents=[common], help="make a new record where the old one is damaged")
    return parser


def _add_new_record(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--new-record",
        action="store_true",
        default=argparse.SUPPRESS,
        help="where the record is missing: start an empty one, and keep what is left of the old one beside it",
    )


def _guard(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = -1.0
    if not 0 <= seconds <= 5:
        raise argparse.ArgumentTypeError(f"found {text!r}; expected seconds from 0 to 5")
    return seconds


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = -1.0
    if not 0 < seconds <= 1_000_000:
        raise argparse.ArgumentTypeError(f"found {text!r}; expected a number of seconds above 0")
    return seconds


def main(argv: Sequence[str] | None = None) -> int:
    """Runs a command line; returns the exit code: 0 done, 1 the input is wrong, 2 the command line is wrong."""
    parser = _parser()
    try:
        options = parser.parse_args(argv)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else WRONG_COMMAND
    for name in ("shop", "data", "units", "key_guard"):
        if not hasattr(options, name):
            setattr(options, name, None)
    options.new_record = getattr(options, "new_record", False)
    try:
        return _command(options.command)(options)
    except CoachError as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)  # noqa: T201
        return WRONG_INPUT


def _command(name: str | None) -> Callable[[argparse.Namespace], int]:
    """What does a command; no other command's needs are loaded."""
    match name:
        case "plan":
            from coach.commands.planning import plan_command as found
        case "check":
            from coach.commands.planning import check_command as found
        case "fit":
            from coach.commands.proposing import fit_command as found
        case "family":
            from coach.commands.proposing import family_command as found
        case "log":
            from coach.commands.recording import log_command as found
        case "export":
            from coach.commands.recording import export_command as found
        case "import":
            from coach.commands.recording import import_command as found
        case "recover":
            from coach.commands.recording import recover_command as found
        case "run":
            from coach.commands.walking import run_command as found
        case _:
            from coach.commands.walking import app_command as found
    return found


def entry() -> NoReturn:
    """The console script: `main`, made fit for pipes that close early and terminals that aren't UTF-8."""
    codecs.register_error("coach.spelled", _spelled)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="coach.spelled")
    try:
        code = main()
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = WRONG_INPUT
    except OSError as error:
        # Whatever else can't be read or written is told where it is met, so this is what is printed.
        code = WRONG_INPUT
        with suppress(OSError):
            print(f"coach: what is to be printed can't be written: {error.strerror}", file=sys.stderr, flush=True)  # noqa: T201
        _forget_output()
    except KeyboardInterrupt:
        code = 130
    try:
        sys.stderr.flush()
    except (AttributeError, OSError):
        code = code or WRONG_INPUT
        _forget_output()
    sys.exit(code)


def _forget_output() -> None:
    """What is left to be written goes nowhere, so that the end of the program doesn't try once more."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError, OSError, ValueError):
            os.dup2(nowhere, stream.fileno())


def _spelled(error: UnicodeError) -> tuple[str, int]:
    """Plain characters instead of those that the terminal's encoding lacks."""
    assert isinstance(error, UnicodeEncodeError)
    return "".join(_SPELLED.get(sign, "?") for sign in error.object[error.start : error.end]), error.end
