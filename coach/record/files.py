"""The record's files on disk: the database, what SQLite keeps beside it, and its backups."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

FILE_NAME = "coach.db"
BUSY_SECONDS = 0.25  # a person waits at the screen meanwhile

_BACKUP_NAME = re.compile(r"coach-(\d{8})-\d{6}(?:-\d+)?\.db")


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
