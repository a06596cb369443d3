"""The commands that walk: run, on the screen or in plain lines, and coach alone, which opens the app."""

from __future__ import annotations

import argparse
import gc
import io
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from coach.commands import DONE, WRONG_COMMAND, WRONG_INPUT
from coach.commands.recording import no_such_batch
from coach.commands.uncollected import uncollected
from coach.ground.clean import arguments, batch_option
from coach.ground.errors import CoachError

if TYPE_CHECKING:
    from coach.plain.lines import Lines
    from coach.record.batch.session import Session
    from coach.record.disk.store import Store
    from coach.talk.context import Context


def run_command(options: argparse.Namespace) -> int:
    """`coach run`: starts a batch, or carries one on."""
    with uncollected():
        return _run(options)


def _run(options: argparse.Namespace) -> int:
    from coach.ground.places import data_folder
    from coach.record.disk.store import Store

    if not options.layouts and options.batch is None and not options.plain:
        print("coach run: expected a LAYOUT, or --batch NAME to carry one on; see coach run --help", file=sys.stderr)  # noqa: T201
        return WRONG_COMMAND
    if options.smallest_first and not options.layouts:
        print("coach run: --smallest-first goes with a LAYOUT: a batch under way keeps its order", file=sys.stderr)  # noqa: T201
        return WRONG_COMMAND
    if not options.plain:
        _needs_terminal()
    with Store.open(data_folder(options.data), anew=options.new_record) as store:
        session: Session | None = None
        notes: tuple[str, ...] = ()
        if options.layouts:
            session, notes = _started(store, options)
        elif options.batch is not None:
            session = _carried_on(store, options.batch)
        return (_walk_in_lines if options.plain else _open)(store, options, session, notes)


def app_command(options: argparse.Namespace) -> int:
    """`coach`: opens the app."""
    from coach.ground.places import data_folder
    from coach.record.disk.store import Store

    _needs_terminal()
    with uncollected(), Store.open(data_folder(options.data), anew=options.new_record) as store:
        return _open(store, options, None, ())


def _carried_on(store: Store, name: str) -> Session:
    from coach.record.batch.session import Session, unfinished_batch

    row, _ = unfinished_batch(store, name)
    if row is not None:
        return Session(store, row)
    if store.batch_named(name) is not None:
        raise CoachError(f"the batch “{name}” is finished; coach log {arguments(name)} shows it")
    raise CoachError(no_such_batch(name, [row.name for row in store.batches() if not row.finished]))


def _started(store: Store, options: argparse.Namespace) -> tuple[Session, tuple[str, ...]]:
    """A new batch of the layouts, or the unfinished one of that name if its layouts are equal."""
    from coach.loading import load
    from coach.record.batch.session import Session, checked_name, name_after, same_layouts, start, unfinished_batch
    from coach.record.exchange import free_name

    loaded = load(options.layouts, options.shop, options.units, smallest_first=options.smallest_first)
    notes = tuple(f"{note.where}: {note.text} ({note.source})" for _, note in loaded.advice)
    asked = checked_name(options.batch) if options.batch is not None else name_after(loaded.job.layouts)
    row, name = unfinished_batch(store, asked)
    if row is None:
        return start(store, name, loaded.job, loaded.settings, loaded.unit), notes
    session = Session(store, row)
    other = None
    if not same_layouts(session, loaded.job.layouts):
        other = "with other layouts, or with these before they were changed"
    elif options.smallest_first and not session.walker.settings.smallest_first:
        other = "with the largest mark first"
    if other is not None:
        files = arguments(*options.layouts)
        order = " --smallest-first" if options.smallest_first else ""
        raise CoachError(
            f"a batch called “{name}” is under way {other}.\n"
            f"Carry it on:  coach run {batch_option(name)}\n"
            f"Or start another:  coach run{order} {batch_option(free_name(store, asked))} {files}"
        )
    return session, notes


def _needs_terminal() -> None:
    # Textual reads stdin and draws on stderr; a stdout that is elsewhere would swallow the farewell.
    for stream, what in (
        (sys.stdin, "the keys come from"),
        (sys.stdout, "the screen goes to"),
        (sys.stderr, "the screen goes to"),
    ):
        if stream is None or not stream.isatty():
            raise CoachError(
                f"the walk needs a terminal, but {what} a file or pipe; coach run --plain walks in lines without one, "
                "and coach plan and coach log print"
            )


def _open(store: Store, options: argparse.Namespace, session: Session | None, notes: Sequence[str]) -> int:
    from coach.tui.app import CoachApp

    return CoachApp(_context(store, options), session, notes).run_to_end()


def _walk_in_lines(store: Store, options: argparse.Namespace, session: Session | None, notes: Sequence[str]) -> int:
    from coach.plain.lines import Lines
    from coach.plain.walk import PlainWalk

    gc.enable()
    # Whoever started coach may have closed either of them.
    source, target = sys.stdin or io.StringIO(), sys.stdout or io.StringIO()
    context = _context(store, options)
    lines = Lines(source, target, plain=context.plain)
    if session is None:
        session = _chosen(store, lines)
    if session is None or PlainWalk(context, session, lines, guarded=source.isatty()).run(notes):
        return DONE
    return WRONG_INPUT


def _chosen(store: Store, lines: Lines) -> Session | None:
    """The batch under way that the person chooses, if they do."""
    from coach.plain.choosing import which_batch
    from coach.record.batch.session import Session
    from coach.record.rows import now

    rows = [row for row in store.batches() if not row.finished]
    if not rows:
        raise CoachError("no batch is under way; start one:  coach run LAYOUT --plain")
    row = which_batch(lines, rows, now())
    return None if row is None else Session(store, row)


def _context(store: Store, options: argparse.Namespace) -> Context:
    from coach.talk.context import Context
    from coach.talk.signs import only_ascii

    plain = only_ascii(sys.stdout or io.StringIO())
    again = [(name, getattr(options, name)) for name in ("data", "shop")]
    said = tuple(word for name, value in again if value is not None for word in (f"--{name}", str(value)))
    return Context(store, options.shop, options.units, options.key_guard, plain=plain, options=said)
