"""The file of the record: its schema and migrations, its backups, and what is said when it can't be used."""

from __future__ import annotations

import errno
import os
import re
import shlex
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from coach.errors import CoachError

FILE_NAME = "coach.db"
APPLICATION_ID = 0x436F6368  # "Coch"
BUSY_SECONDS = 0.25  # a person waits at the screen meanwhile
BACKUPS_KEPT = 14
ABANDONED_S = 86_400.0  # a backup that is half made after so long was killed: none takes a day

Migration = Callable[[sqlite3.Connection], None]

_BACKUP_NAME = re.compile(r"coach-(\d{8})-\d{6}(?:-\d+)?\.db")
_NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
_ELSEWHERE = "choose another folder with --data DIR or COACH_DATA"


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
        connection.execute(
            f"""CREATE TRIGGER events_no_{change.lower()} BEFORE {change} ON events
                BEGIN SELECT RAISE(ABORT, 'events are only ever added'); END"""
        )


MIGRATIONS: tuple[Migration, ...] = (_first,)
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
        if not file.stat().st_size and backups(file) and not beside(file, "-wal").exists():
            raise damaged(file, "an empty file")  # SQLite would take it for a new record
        version = _version(file, len(migrations))
        refuse_read_only(file)  # SQLite would say so at the first write only
    connection = sqlite3.connect(file, timeout=BUSY_SECONDS, isolation_level=None)
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        if 0 < version < len(migrations):
            back_up(connection, file, clock())
        for target in range(version + 1, len(migrations) + 1):
            _migrate(connection, target, migrations[target - 1])
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


def _version(file: Path, newest: int) -> int:
    """The schema's version in `file`, 0 if it is empty; refuses whatever is not a record that can be read."""
    with closing(for_reading(file)) as connection:
        identity = Identity.of(connection)
    if why := identity.strange(newest):
        raise CoachError(f"{file}: {why}")
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
                f"a record's is {APPLICATION_ID:#010x}; it was left as it is. Move it away, or {_ELSEWHERE}"
            )
        if self.version > newest:
            return (
                f"the record has schema version {self.version}, this program knows versions up to {newest}; "
                f"it was left as it is. Use the newer coach that wrote it, or {_ELSEWHERE}"
            )
        return None


def for_reading(file: Path) -> sqlite3.Connection:
    """A connection to `file` that only reads."""
    # Without a log beside it the file alone is the truth; read as immutable, it gets no new files beside it.
    mode = "mode=ro" if beside(file, "-wal").exists() else "immutable=1"
    return sqlite3.connect(f"{file.absolute().as_uri()}?{mode}", uri=True, timeout=BUSY_SECONDS, isolation_level=None)


def beside(file: Path, suffix: str) -> Path:
    """What SQLite keeps beside a database: its log (`-wal`) or the log's index (`-shm`)."""
    return file.with_name(file.name + suffix)


def backups(file: Path) -> list[Path]:
    """The backups of `file`, oldest first."""
    folder = file.parent / "backups"
    if not folder.is_dir():
        return []
    found = (path for path in folder.iterdir() if _BACKUP_NAME.fullmatch(path.name))
    return sorted(found, key=lambda path: path.stem)


def back_up(connection: sqlite3.Connection, file: Path, at: datetime) -> Path:
    """Copies the record to `backups/coach-YYYYMMDD-HHMMSS.db` beside it; a copy that fails leaves nothing.

    Raises:
        CoachError: the record is damaged, so its copy would be too.
        sqlite3.Error, OSError: for `explained`.
    """
    folder = file.parent / "backups"
    folder.mkdir(exist_ok=True)
    stem = name = f"coach-{at:%Y%m%d-%H%M%S}"
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
        if finding != "ok":
            raise damaged(file, finding)
        return part.replace(folder / f"{name}.db")
    finally:
        for suffix in ("", "-journal", "-wal", "-shm"):
            beside(part, suffix).unlink(missing_ok=True)


def back_up_daily(connection: sqlite3.Connection, file: Path, at: datetime) -> Path | None:
    """Makes a backup unless there is one of the day of `at`, then keeps the newest `BACKUPS_KEPT`.

    Returns:
        the new backup, or None if the day has one already.

    Raises:
        CoachError, sqlite3.Error, OSError: as `back_up`; then no older backup is removed.
    """
    older = backups(file)
    if any(path.name.startswith(f"coach-{at:%Y%m%d}-") for path in older):
        return None
    made = back_up(connection, file, at)
    half = [path for path in made.parent.glob("coach-*.part*") if path.stat().st_mtime < at.timestamp() - ABANDONED_S]
    for path in (*older[: -(BACKUPS_KEPT - 1)], *half):
        path.unlink(missing_ok=True)
    return made


@contextmanager
def explained(file: Path) -> Iterator[None]:
    """Whatever SQLite or the file system refuses in the block becomes a CoachError in words that help."""
    try:
        yield
    except sqlite3.Error as error:
        raise _explanation(error, file) from error
    except OSError as error:
        if error.errno in _NO_ROOM:
            raise _full(file) from error
        found = _hindrance(file) or f"{error.strerror or error}: {error.filename or file}"
        raise _unusable(file, found) from error
    except UnicodeEncodeError as error:
        raise CoachError(f"{error.object!a} cannot be kept: it holds characters that are not text") from error


def _explanation(error: sqlite3.Error, file: Path) -> CoachError:
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:
        # The module itself complains: of text that is not UTF-8, or of how it was called.
        if isinstance(error, sqlite3.OperationalError):
            return damaged(file, str(error))
        return CoachError(f"{file}: the record could not be used: {error}; nothing was written")
    match code & 0xFF:  # the rest of the code only refines it
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return CoachError(f"{file}: another program holds the record; nothing was written, press the key again")
        case sqlite3.SQLITE_FULL:
            return _full(file)
        case sqlite3.SQLITE_IOERR:
            return CoachError(
                f"{file.parent}: the disk refused ({error}): full, failing or gone; nothing was written. "
                f"Make room or mend it and press the key again, or {_ELSEWHERE}"
            )
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_CANTOPEN | sqlite3.SQLITE_PERM:
            return _unusable(file, _hindrance(file) or str(error))
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return damaged(file, _quick_check(file) or str(error))
    return CoachError(f"{file}: the record could not be used: {error}; nothing was written")


def _full(file: Path) -> CoachError:
    return CoachError(f"{file.parent}: the disk is full; nothing was written. Make room and try again, or {_ELSEWHERE}")


def _unusable(file: Path, found: str) -> CoachError:
    return CoachError(
        f"{file.parent}: the record cannot be kept here: {found}; nothing was written. "
        f"Make the folder and {file.name} writable, or {_ELSEWHERE}"
    )


def refuse_read_only(file: Path) -> None:
    """CoachError if the record's folder or the file in it is there but can't be written."""
    if hindrance := _hindrance(file):
        raise _unusable(file, hindrance)


def _hindrance(file: Path) -> str | None:
    folder = file.parent
    with suppress(OSError):
        if folder.exists() and not folder.is_dir():
            return "it is a file, not a folder"
        if folder.is_dir() and not os.access(folder, os.W_OK | os.X_OK):
            return "the folder is read-only"
        if file.is_dir():
            return f"{file.name} is a folder, not a file"
        for path in (file, beside(file, "-wal"), beside(file, "-shm")):
            if path.exists() and not os.access(path, os.W_OK):
                return f"{path.name} is read-only"
    return None


def damaged(file: Path, found: str) -> CoachError:
    """What is said of a file that cannot be read as a record: what was `found`, and the newest backup."""
    kept: list[Path] = []
    with suppress(OSError):
        kept = backups(file)
    source = f"the newest backup, {kept[-1]}, and of " if kept else ""
    return CoachError(
        f"{file}: the file is damaged or is not a record: found {found!r}, expected a sound SQLite "
        f"database; it was left as it is. Make a new record of {source}what can still be read (the old file is kept "
        f"beside it):  coach recover --data {shlex.quote(str(file.parent))}"
    )


def _quick_check(file: Path) -> str | None:
    with suppress(sqlite3.Error), closing(for_reading(file)) as connection:
        finding = str(connection.execute("PRAGMA quick_check(1)").fetchone()[0])
        return None if finding == "ok" else finding.splitlines()[-1]
    return None
