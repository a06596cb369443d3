"""The commands about the record: log, export, import, recover."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from coach.commands import DONE
from coach.ground.clean import arguments, batch_option, shown_path
from coach.ground.errors import CoachError

if TYPE_CHECKING:
    from coach.record.disk.reader import Reader
    from coach.record.rows import BatchRow


def log_command(options: argparse.Namespace) -> int:
    """`coach log`: which boards were cut, when, and what is left."""
    from coach.ground.places import data_folder
    from coach.record.batch.session import Session
    from coach.record.disk.reading import opened_to_read
    from coach.record.rows import now
    from coach.telling.log.lines import csv_lines, json_lines

    with opened_to_read(data_folder(options.data)) as store:
        rows = store.batches() if options.batch is None else [_named(store, options.batch)]
        if options.json or options.csv:
            lines = (json_lines if options.json else csv_lines)(store, rows)
            for line in lines:
                print(line)  # noqa: T201
            return DONE
        from coach.telling.log.page import batches_page, boards_page
        from coach.telling.plan.page import printer

        if options.batch is None:
            page = batches_page(rows, now())
        else:
            page = boards_page(Session(store, rows[0]), store.leftovers(rows[0].id), now())
        printer().print(page)
    return DONE


def export_command(options: argparse.Namespace) -> int:
    """`coach export`: writes a batch into a file."""
    from coach.ground.places import data_folder
    from coach.record.disk.reading import opened_to_read
    from coach.record.exchange import export_batch, write_new

    with opened_to_read(data_folder(options.data)) as store:
        row = _named(store, options.batch)
        write_new(options.file, export_batch(store, row))
    how = f"on the other computer:  coach import {arguments(options.file)}"
    print(f"“{row.name}” is in {shown_path(options.file)}; {how}")  # noqa: T201
    return DONE


def import_command(options: argparse.Namespace) -> int:
    """`coach import`: takes a batch from a file."""
    from coach.commands.progress import progress_bar
    from coach.commands.uncollected import uncollected
    from coach.ground.places import data_folder
    from coach.record.disk.store import Store
    from coach.record.exchange import import_batch

    with Store.open(data_folder(options.data), anew=options.new_record) as store, progress_bar() as say, uncollected():
        row = import_batch(store, options.file, name=options.batch, say=say)
    how = "finished" if row.finished else f"carry it on:  coach run {batch_option(row.name)}"
    print(f"“{row.name}” is in the record: {row.cuts_done} of {row.cuts} cuts done; {how}")  # noqa: T201
    return DONE


def recover_command(options: argparse.Namespace) -> int:
    """`coach recover`: saves what can be saved of a damaged record."""
    from coach.commands.progress import progress_bar
    from coach.commands.uncollected import uncollected
    from coach.ground.places import data_folder
    from coach.record.rescue.recovery import recover
    from coach.record.rows import now

    with progress_bar() as say, uncollected():
        found = recover(data_folder(options.data), clock=now, say=say)
    for line in found.lines:
        print(line)  # noqa: T201
    return DONE


def _named(store: Reader, name: str) -> BatchRow:
    row = store.batch_named(name)
    if row is None:
        raise CoachError(no_such_batch(name, [row.name for row in store.batches()]))
    return row


def no_such_batch(name: str, names: Sequence[str]) -> str:
    """Says that there is no batch of that name, and which there are."""
    known = ", ".join(f"“{known}”" for known in names[:5]) or "none yet"
    return f"there is no batch called “{shown_path(name)}”; in the record: {known}"
