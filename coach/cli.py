"""The commands: thin, and quick to load; what they need is imported when they run."""

from __future__ import annotations

import argparse
import codecs
import os
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from coach import __version__
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.loading import Loaded
    from coach.record.session import Session
    from coach.record.store import BatchRow, Store
    from coach.sheets.saying import Saying

DONE, WRONG_INPUT, WRONG_COMMAND = 0, 1, 2
_SPELLED = {"“": '"', "”": '"', "’": "'", "−": "-", "…": ".", "°": " deg", "×": "x", "≤": "<="}


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        self.exit(WRONG_COMMAND, f"{self.prog}: {message}; see {self.prog} --help\n")


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
    run = commands.add_parser("run", parents=[common], help="start a batch, or carry one on, at its next step")
    run.add_argument("layouts", nargs="*", type=Path, metavar="LAYOUT", help="layout files")
    run.add_argument("--batch", metavar="NAME", help="the batch's name; alone, the batch to carry on")
    plan = commands.add_parser("plan", parents=[common], help="print settings, turns and totals")
    plan.add_argument("layouts", nargs="+", type=Path, metavar="LAYOUT")
    plan.add_argument("--json", action="store_true", help="as JSON, for other programs")
    check = commands.add_parser("check", parents=[common], help="validate layouts and saw them on a virtual saw")
    check.add_argument("layouts", nargs="+", type=Path, metavar="LAYOUT")
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
    commands.add_parser("recover", parents=[common], help="make a new record where the old one is damaged")
    return parser


def _guard(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = -1.0
    if not 0 <= seconds <= 5:
        raise argparse.ArgumentTypeError(f"found {text!r}; expected seconds from 0 to 5")
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
    try:
        match options.command:
            case "plan":
                return _plan(options)
            case "check":
                return _check(options)
            case "log":
                return _log(options)
            case "run":
                return _run(options)
            case "export":
                return _export(options)
            case "import":
                return _import(options)
            case "recover":
                return _recover(options)
        return _app(options)
    except CoachError as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)  # noqa: T201
        return WRONG_INPUT


def entry() -> NoReturn:
    """The console script: `main`, made fit for pipes that close early and terminals that aren't UTF-8."""
    codecs.register_error("coach.spelled", _spelled)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="coach.spelled")
    try:
        code = main()
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = WRONG_INPUT
    except KeyboardInterrupt:
        code = 130
    sys.exit(code)


def _spelled(error: UnicodeError) -> tuple[str, int]:
    """Plain characters instead of those that the terminal's encoding lacks."""
    assert isinstance(error, UnicodeEncodeError)
    return "".join(_SPELLED.get(sign, "?") for sign in error.object[error.start : error.end]), error.end


def _saying(loaded: Loaded) -> Saying:
    from coach.sheets.saying import Saying

    return Saying(loaded.unit, loaded.job.shop.fence.graduation)


def _plan(options: argparse.Namespace) -> int:
    from coach.loading import load
    from coach.plan.situation import beginning
    from coach.plan.walker import plan

    loaded = load(options.layouts, options.shop, options.units)
    steps = list(plan(beginning(loaded.job, loaded.settings)))
    if options.json:
        import json

        from coach.sheets.plan_json import plan_as_json

        print(json.dumps(plan_as_json(loaded.job, loaded.settings, steps, _saying(loaded)), ensure_ascii=False))  # noqa: T201
        return DONE
    from coach.sheets.plan_page import plan_page, printer

    title = " + ".join(layout.name for layout in loaded.job.layouts)
    printer().print(plan_page(loaded.job, loaded.settings, steps, _saying(loaded), title))
    return DONE


def _check(options: argparse.Namespace) -> int:
    from coach.loading import load
    from coach.sheets.plan_page import advice_lines, printer, sample_shop_note
    from coach.sheets.saying import counted

    loaded = load(options.layouts, options.shop, options.units)
    out = printer()
    for line in advice_lines(loaded.advice):
        out.print(line, soft_wrap=True)
    if loaded.job.shop.sample:
        out.print(sample_shop_note(), soft_wrap=True)
    out.print(
        f"{counted(len(loaded.job.boards), 'board')}, {counted(loaded.job.cuts, 'cut')} at "
        f"{counted(len(loaded.settings.fence_mm), 'fence setting')}: sawn on the "
        "virtual saw, every tail comes out right.",
        soft_wrap=True,
    )
    return DONE


def _log(options: argparse.Namespace) -> int:
    from coach.places import data_folder
    from coach.record.session import Session
    from coach.record.store import Store, now
    from coach.sheets.log_lines import csv_lines, json_lines, log_events

    with Store.open(data_folder(options.data)) as store:
        rows = store.batches() if options.batch is None else [_named(store, options.batch)]
        if options.json or options.csv:
            lines = (json_lines if options.json else csv_lines)(log_events(store, rows))
            for line in lines:
                print(line)  # noqa: T201
            return DONE
        from coach.sheets.log_page import batches_page, boards_page
        from coach.sheets.plan_page import printer

        page = batches_page(rows, now()) if options.batch is None else boards_page(Session(store, rows[0]), now())
        printer().print(page)
    return DONE


def _named(store: Store, name: str) -> BatchRow:
    row = store.batch_named(name)
    if row is None:
        raise CoachError(_no_such_batch(name, [row.name for row in store.batches()]))
    return row


def _no_such_batch(name: str, names: Sequence[str]) -> str:
    known = ", ".join(f"“{known}”" for known in names[:5]) or "none yet"
    return f"there is no batch called “{name}”; in the record: {known}"


def _export(options: argparse.Namespace) -> int:
    from coach.places import data_folder
    from coach.record.exchange import export_batch, write_new
    from coach.record.store import Store

    with Store.open(data_folder(options.data)) as store:
        row = _named(store, options.batch)
        write_new(options.file, export_batch(store, row))
    print(f"“{row.name}” is in {options.file}; on the other computer:  coach import {shlex.quote(str(options.file))}")  # noqa: T201
    return DONE


def _import(options: argparse.Namespace) -> int:
    from coach.places import data_folder
    from coach.record.exchange import import_batch
    from coach.record.store import Store

    with Store.open(data_folder(options.data)) as store:
        row = import_batch(store, options.file, name=options.batch)
    how = "finished" if row.finished else f"carry it on:  coach run --batch {shlex.quote(row.name)}"
    print(f"“{row.name}” is in the record: {row.cuts_done} of {row.cuts} cuts done; {how}")  # noqa: T201
    return DONE


def _recover(options: argparse.Namespace) -> int:
    from coach.places import data_folder
    from coach.record.recovery import recover
    from coach.record.store import now

    for line in recover(data_folder(options.data), clock=now).lines:
        print(line)  # noqa: T201
    return DONE


def _run(options: argparse.Namespace) -> int:
    from coach.places import data_folder
    from coach.record.store import Store

    if not options.layouts and options.batch is None:
        print("coach run: expected a LAYOUT, or --batch NAME to carry one on; see coach run --help", file=sys.stderr)  # noqa: T201
        return WRONG_COMMAND
    _needs_terminal()
    with Store.open(data_folder(options.data)) as store:
        if options.layouts:
            session, notes = _started(store, options)
        else:
            session, notes = _carried_on(store, options.batch), ()
        return _open(store, options, session, notes)


def _carried_on(store: Store, name: str) -> Session:
    from coach.record.session import Session, unfinished_batch

    row, _ = unfinished_batch(store, name)
    if row is not None:
        return Session(store, row)
    if store.batch_named(name) is not None:
        raise CoachError(f"the batch “{name}” is finished; coach log {shlex.quote(name)} shows it")
    raise CoachError(_no_such_batch(name, [row.name for row in store.batches() if not row.finished]))


def _started(store: Store, options: argparse.Namespace) -> tuple[Session, tuple[str, ...]]:
    """A new batch of the layouts, or the unfinished one of that name if its layouts are equal."""
    from coach.loading import load
    from coach.record.exchange import free_name
    from coach.record.session import Session, checked_name, name_after, same_layouts, start, unfinished_batch

    loaded = load(options.layouts, options.shop, options.units)
    notes = tuple(f"{note.where}: {note.text} ({note.source})" for _, note in loaded.advice)
    asked = checked_name(options.batch) if options.batch is not None else name_after(loaded.job.layouts)
    row, name = unfinished_batch(store, asked)
    if row is None:
        return start(store, name, loaded.job, loaded.settings, loaded.unit), notes
    session = Session(store, row)
    if not same_layouts(session, loaded.job.layouts):
        files = " ".join(shlex.quote(str(path)) for path in options.layouts)
        raise CoachError(
            f"a batch called “{name}” is under way with other layouts, or with these before they were changed.\n"
            f"Carry it on:  coach run --batch {shlex.quote(name)}\n"
            f"Or start another:  coach run {files} --batch {shlex.quote(free_name(store, asked))}"
        )
    return session, notes


def _needs_terminal() -> None:
    # Textual reads stdin and draws on stderr; a stdout that is elsewhere would swallow the farewell.
    for stream, what in (
        (sys.stdin, "the keys come from"),
        (sys.stdout, "the screen goes to"),
        (sys.stderr, "the screen goes to"),
    ):
        if not stream.isatty():
            raise CoachError(
                f"the walk needs a terminal, but {what} a file or pipe; coach plan and coach log print without one"
            )


def _app(options: argparse.Namespace) -> int:
    from coach.places import data_folder
    from coach.record.store import Store

    _needs_terminal()
    with Store.open(data_folder(options.data)) as store:
        return _open(store, options, None, ())


def _open(store: Store, options: argparse.Namespace, session: Session | None, notes: Sequence[str]) -> int:
    from coach.tui.app import CoachApp, only_ascii
    from coach.tui.context import GUARD_S, Context

    guard = GUARD_S if options.key_guard is None else options.key_guard
    context = Context(store, options.shop, options.units, guard, plain=only_ascii())
    return CoachApp(context, session, notes).run_to_end()
