"""The record opened only to be read, on a medium that can't be written as well."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from datetime import datetime
from pathlib import Path

from coach.record.disk.files import FILE_NAME, beside, for_reading
from coach.record.disk.missing import refuse_missing
from coach.record.disk.reader import Reader
from coach.record.disk.refusals import explained, refuse_odd
from coach.record.disk.schema import MIGRATIONS, connect, version_of
from coach.record.disk.store import Store
from coach.record.rows import now


@contextmanager
def opened_to_read(folder: Path, *, clock: Callable[[], datetime] = now) -> Iterator[Reader]:
    """The record in `folder`. Where nothing can be written there, nothing is, and what can't be read in its place (an
    older schema, a journal beside the file) is read from a copy elsewhere.

    Raises:
        CoachError: as `Store.open`.
    """
    file = folder / FILE_NAME
    refuse_odd(file)
    if not _is_read_only(file):
        with Store.open(folder, clock=clock) as store:
            yield store
        return
    with ExitStack() as stack:
        with explained(file):
            refuse_missing(file)
            connection = stack.enter_context(closing(_connection(file, clock, stack)))
        yield Reader(connection, file)


def _is_read_only(file: Path) -> bool:
    """Whether there is a record in a place where nothing can be written."""
    try:
        there = file.is_file()
    except OSError:
        return False
    return there and not (os.access(file.parent, os.W_OK | os.X_OK) and os.access(file, os.W_OK))


def _connection(file: Path, clock: Callable[[], datetime], stack: ExitStack) -> sqlite3.Connection:
    log = beside(file, "-wal")
    has_log = log.exists() and log.stat().st_size > 0
    if not has_log and version_of(file, len(MIGRATIONS)) == len(MIGRATIONS):
        return for_reading(file)
    copy = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="coach-read-"))) / FILE_NAME
    shutil.copyfile(file, copy)
    if has_log:
        shutil.copyfile(log, beside(copy, "-wal"))
    return connect(copy, clock)
