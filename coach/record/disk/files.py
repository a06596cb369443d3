"""The record's files on disk: the database, what SQLite keeps beside it, and its backups."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

FILE_NAME = "coach.db"
LOCKED_BYTES = (510, 0x40000002)
"""How many and from where: whoever has a database open holds a lock on one of them."""
UNREADABLE = (sqlite3.Error, UnicodeDecodeError)
"""What reading a damaged file ends in; the latter where the library's own message is none."""
BUSY_SECONDS = 0.25  # a person waits at the screen meanwhile

_BACKUP_NAME = re.compile(r"coach-(\d{8})-\d{6}(?:-\d+)?\.db")


def for_reading(file: Path) -> sqlite3.Connection:
    """A connection to `file` that only reads."""
    # Without a log beside it the file alone is the truth; read as immutable, it gets no new files beside it.
    mode = "mode=ro" if beside(file, "-wal").exists() else "immutable=1"
    return sqlite3.connect(f"{file.absolute().as_uri()}?{mode}", uri=True, timeout=BUSY_SECONDS, isolation_level=None)


def beside_the_store(file: Path) -> sqlite3.Connection:
    """Another connection to a record that is open, for a thread of its own."""
    uri = f"{file.absolute().as_uri()}?mode=rw"
    return sqlite3.connect(uri, uri=True, timeout=BUSY_SECONDS, isolation_level=None)


def is_open_elsewhere(file: Path) -> bool:
    """Whether another process has the record open: it holds a lock on one of SQLite's bytes then."""
    import fcntl

    try:
        with file.open("r+b") as asked:
            fcntl.lockf(asked, fcntl.LOCK_EX | fcntl.LOCK_NB, *LOCKED_BYTES)
    except OSError:
        return True
    return False


def beside(file: Path, suffix: str) -> Path:
    """What SQLite keeps beside a database: its log (`-wal`) or the log's index (`-shm`)."""
    return file.with_name(file.name + suffix)


def backups(file: Path) -> list[Path]:
    """The backups of `file`, oldest first."""
    folder = file.parent / "backups"
    if not folder.is_dir():
        return []
    found = (path for path in folder.iterdir() if _BACKUP_NAME.fullmatch(path.name) and path.is_file())
    return sorted(found, key=lambda path: path.stem)
