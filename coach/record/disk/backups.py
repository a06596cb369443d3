"""Backups of the record: before each migration, and at the start of each day's work."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path

from coach.record.chain import CHAINED, fault_in
from coach.record.disk.files import UNREADABLE, backups, beside, for_reading
from coach.record.disk.refusals import damaged

BACKUPS_KEPT = 14
ABANDONED_S = 86_400.0  # a backup that is half made after so long was killed: none takes a day


def back_up(connection: sqlite3.Connection, file: Path, at: datetime) -> Path:
    """Copies the record to `backups/coach-YYYYMMDD-HHMMSS.db` beside it; a copy that fails leaves nothing.

    Raises:
        CoachError: the record is damaged, so its copy would be too.
        sqlite3.Error, OSError: for `explained`.
    """
    folder = file.parent / "backups"
    folder.mkdir(exist_ok=True)
    stem = name = f"coach-{_day(at)}-{at:%H%M%S}"
    again = 1
    while (folder / f"{name}.db").exists():
        again += 1
        name = f"{stem}-{again}"
    part = folder / f"{name}.{os.getpid()}.part"
    try:
        with closing(sqlite3.connect(part, isolation_level=None)) as copy:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # so that the copy is one file
            finding = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
            if finding == "ok" and copy.execute("PRAGMA user_version").fetchone()[0] >= CHAINED:
                finding = fault_in(copy) or "ok"
        if finding != "ok":
            raise damaged(file, finding)
        return part.replace(folder / f"{name}.db")
    finally:
        for suffix in ("", "-journal", "-wal", "-shm"):
            beside(part, suffix).unlink(missing_ok=True)


def back_up_daily(connection: sqlite3.Connection, file: Path, at: datetime) -> Path | None:
    """Makes a backup unless there is one of the day of `at`, then keeps the newest `BACKUPS_KEPT`, and of the older
    ones those that have a batch, or entries of one, that the record hasn't.

    Returns:
        the new backup, or None if the day has one already, or the record is empty.

    Raises:
        CoachError, sqlite3.Error, OSError: as `back_up`; then no older backup is removed.
    """
    older = backups(file)
    parts = (file.parent / "backups").glob("coach-*.part*")
    half = [path for path in parts if path.stat().st_mtime < at.timestamp() - ABANDONED_S]
    if any(path.name.startswith(f"coach-{_day(at)}-") for path in older):
        return None
    held = _batches(connection)
    made = back_up(connection, file, at) if held else None
    needless = [path for path in older[: -(BACKUPS_KEPT - 1)] if _holds_no_more(path, held)]
    for path in (*needless, *half):
        path.unlink(missing_ok=True)
    return made


def _batches(connection: sqlite3.Connection) -> dict[tuple[str, str], int]:
    """How many events each batch has, by name and beginning."""
    rows = connection.execute("SELECT name, started, events FROM batches")
    return {(name, started): count for name, started, count in rows if type(count) is int}


def _holds_no_more(backup: Path, held: Mapping[tuple[str, str], int]) -> bool:
    """Whether a backup has nothing that the record hasn't; one that can't be read has nothing."""
    with suppress(*UNREADABLE), closing(for_reading(backup)) as connection:
        return all(count <= held.get(key, -1) for key, count in _batches(connection).items())
    return True


def _day(at: datetime) -> str:
    return f"{at.year:04}{at:%m%d}"
