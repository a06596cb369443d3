"""The record's schema and its migrations, and whether a file is a record at all."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.record.chain import SEALED_COLUMNS, beginning, link, seal
from coach.record.disk.backups import back_up
from coach.record.disk.files import BUSY_SECONDS, for_reading, is_open_elsewhere
from coach.record.disk.journal import journal_of
from coach.record.disk.refusals import ELSEWHERE, damaged, refuse_read_only

APPLICATION_ID = 0x436F6368  # "Coch"

Migration = Callable[[sqlite3.Connection], None]


def _first(connection: sqlite3.Connection) -> None:
    connection.execute(
        """CREATE TABLE batches (
            id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, started TEXT NOT NULL, last TEXT NOT NULL,
            cuts INTEGER NOT NULL, cuts_done INTEGER NOT NULL, steps_left INTEGER NOT NULL,
            finished INTEGER NOT NULL CHECK (finished IN (0, 1)), events INTEGER NOT NULL)"""
    )
    connection.execute(
        """CREATE TABLE events (
            id INTEGER PRIMARY KEY, batch INTEGER NOT NULL REFERENCES batches (id),
            number INTEGER NOT NULL CHECK (number > 0), at TEXT NOT NULL, kind TEXT NOT NULL,
            data TEXT NOT NULL, UNIQUE (batch, number))"""
    )
    for change in ("UPDATE", "DELETE"):
        _forbid(connection, change)


def _forbid(connection: sqlite3.Connection, change: str) -> None:
    connection.execute(
        f"""CREATE TRIGGER events_no_{change.lower()} BEFORE {change} ON events
            BEGIN SELECT RAISE(ABORT, 'events are only ever added'); END"""
    )


def _chained(connection: sqlite3.Connection) -> None:
    """Checksums for every event and batch (`coach.record.chain`); CoachError if something is missing already."""
    connection.execute("ALTER TABLE batches ADD COLUMN sum TEXT NOT NULL DEFAULT ''")
    connection.execute("ALTER TABLE events ADD COLUMN sum TEXT NOT NULL DEFAULT ''")
    connection.execute("DROP TRIGGER IF EXISTS events_no_update")
    for batch, name, started, count in connection.execute("SELECT id, name, started, events FROM batches").fetchall():
        now, number = beginning(name, started), 0
        sums = []
        rows = connection.execute(
            "SELECT id, number, at, kind, data FROM events WHERE batch = ? ORDER BY number", (batch,)
        )
        for row, found, at, kind, data in rows:
            number += 1
            if found != number or not _is_json(data):
                raise _Rotten(f"event {number} of batch {batch} is missing or can't be read")
            now = link(now, number, at, kind, data)
            sums.append((now, row))
        if number != count:
            raise _Rotten(f"batch {batch} has {number} events; {count} were written")
        connection.executemany("UPDATE events SET sum = ? WHERE id = ?", sums)
        connection.execute("UPDATE batches SET sum = ? WHERE id = ?", (now, batch))
    _forbid(connection, "UPDATE")


def _sealed(connection: sqlite3.Connection) -> None:
    """Seals for the batches' rows (`coach.record.chain`); a place for what a recovery could read but not count, and one
    for snapshots (`coach.record.batch.snapshots`), which may be lost at any time."""
    connection.execute("ALTER TABLE batches ADD COLUMN seal TEXT NOT NULL DEFAULT ''")
    rows = connection.execute(f"SELECT id, {SEALED_COLUMNS} FROM batches").fetchall()  # noqa: S608 - ours
    connection.executemany("UPDATE batches SET seal = ? WHERE id = ?", [(seal(*row), batch) for batch, *row in rows])
    connection.execute(
        """CREATE TABLE leftovers (
            id INTEGER PRIMARY KEY, batch INTEGER NOT NULL REFERENCES batches (id), why TEXT NOT NULL,
            number INTEGER NOT NULL, at TEXT NOT NULL, kind TEXT NOT NULL, data TEXT NOT NULL)"""
    )
    connection.execute(
        """CREATE TABLE snapshots (
            id INTEGER PRIMARY KEY, batch INTEGER NOT NULL REFERENCES batches (id), number INTEGER NOT NULL,
            link TEXT NOT NULL, data TEXT NOT NULL, sum TEXT NOT NULL)"""
    )


class _Rotten(Exception):  # noqa: N818 - what was found, said by whoever knows the file
    """Something in an older record is missing or can't be read, so that it can't be brought to a newer schema."""


def _is_json(data: object) -> bool:
    try:
        return isinstance(data, str) and isinstance(json.loads(data), dict)
    except ValueError:
        return False


MIGRATIONS: tuple[Migration, ...] = (_first, _chained, _sealed)
"""What takes the schema from version n to n + 1, in order; only ever added to."""


@contextmanager
def atomic(connection: sqlite3.Connection) -> Iterator[None]:
    """All of the block's statements or none: commits at its end, rolls back if the block or the commit fails.

    It holds the write lock from the start, so what the block reads stays true until it has written.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def connect(
    file: Path, clock: Callable[[], datetime], migrations: Sequence[Migration] = MIGRATIONS
) -> sqlite3.Connection:
    """The record's file, made or brought to the newest schema, ready to read and write.

    A file from before is backed up before its schema is changed.

    Raises:
        CoachError: the file is not a record, is damaged or is newer than the program; it is left as it was.
        sqlite3.Error, OSError: for `explained`.
    """
    version = 0
    if file.exists():
        journal = journal_of(file)
        if journal is not None and journal.lost and not is_open_elsewhere(file):
            raise damaged(file, f"a damaged place in the journal, and {journal.lost} more entries after it")
        version = version_of(file, len(migrations))
        refuse_read_only(file)  # SQLite would say so at the first write only
    connection = sqlite3.connect(file, timeout=BUSY_SECONDS, isolation_level=None)
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        if 0 < version < len(migrations):
            back_up(connection, file, clock())
        for target in range(version + 1, len(migrations) + 1):
            try:
                _migrate(connection, target, migrations[target - 1])
            except _Rotten as error:
                raise damaged(file, str(error)) from error
    except BaseException:
        connection.close()
        raise
    return connection


def _migrate(connection: sqlite3.Connection, target: int, migration: Migration) -> None:
    with atomic(connection):
        # Another window may have been first.
        if connection.execute("PRAGMA user_version").fetchone()[0] < target:
            migration(connection)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {target}")


def version_of(file: Path, newest: int) -> int:
    """The schema's version in `file`, 0 if it is empty; refuses whatever is not a record that can be read."""
    with closing(for_reading(file)) as connection:
        identity = Identity.of(connection)
    if why := identity.strange(newest):
        raise CoachError(f"{shown_path(file)}: {why}")
    return identity.version


@dataclass(frozen=True, slots=True)
class Identity:
    """What a database says it is: its application's id, its schema's version and how many tables and indexes it has."""

    application: int
    version: int
    tables: int

    @classmethod
    def of(cls, connection: sqlite3.Connection) -> Identity:
        """As the open database says; sqlite3.Error if it can't be read."""
        queries = ("PRAGMA application_id", "PRAGMA user_version", "SELECT count(*) FROM sqlite_master")
        return cls(*(int(connection.execute(query).fetchone()[0]) for query in queries))

    def strange(self, newest: int = len(MIGRATIONS)) -> str | None:
        """Why this is no record that a program of schema version `newest` may touch, or None."""
        if self.application != APPLICATION_ID and (self.application or self.tables):
            return (
                f"this is another program's database: its application id is {self.application:#010x}, "
                f"a record's is {APPLICATION_ID:#010x}; it was left as it is. Move it away, or {ELSEWHERE}"
            )
        if self.version > newest:
            return (
                f"the record has schema version {self.version}, this program knows versions up to {newest}; "
                f"it was left as it is. Use the newer coach that wrote it, or {ELSEWHERE}"
            )
        return None
