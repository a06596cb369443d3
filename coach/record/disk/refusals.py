"""What is said when the record's file can't be used: why, that nothing was written, and what to do."""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from coach.ground.clean import shell_word, shown_path
from coach.ground.errors import CoachError
from coach.ground.plain_files import odd_kind
from coach.record.disk.files import UNREADABLE, backups, beside, for_reading

ELSEWHERE = "choose another folder with --data DIR or COACH_DATA"

_NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})


class HeldError(CoachError):
    """Another program holds the record for a moment: trying again helps."""


@contextmanager
def explained(file: Path) -> Iterator[None]:
    """Whatever SQLite or the file system refuses in the block becomes a CoachError in words that help."""
    try:
        yield
    except sqlite3.Error as error:
        raise _explanation(error, file) from error
    except UnicodeDecodeError as error:
        raise damaged(file, "names that are no text") from error
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
        return CoachError(f"{shown_path(file)}: the record could not be used: {error}; nothing was written")
    match code & 0xFF:  # the rest of the code only refines it
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return HeldError(f"{shown_path(file)}: another program holds the record; nothing was written, try again")
        case sqlite3.SQLITE_FULL:
            return _full(file)
        case sqlite3.SQLITE_IOERR:
            return CoachError(
                f"{shown_path(file.parent)}: the disk refused ({error}): full, failing or gone; nothing was written. "
                f"Make room or mend it and try again, or {ELSEWHERE}"
            )
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_CANTOPEN | sqlite3.SQLITE_PERM:
            return _unusable(file, _hindrance(file) or str(error))
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return damaged(file, _quick_check(file) or str(error))
    return CoachError(f"{shown_path(file)}: the record could not be used: {error}; nothing was written")


def _full(file: Path) -> CoachError:
    return CoachError(
        f"{shown_path(file.parent)}: the disk is full; nothing was written. Make room and try again, or {ELSEWHERE}"
    )


def _unusable(file: Path, found: str) -> CoachError:
    return CoachError(
        f"{shown_path(file.parent)}: the record cannot be kept here: {found}; nothing was written. "
        f"Make the folder and {file.name} writable, or {ELSEWHERE}"
    )


def refuse_read_only(file: Path) -> None:
    """CoachError if the record's folder or the file in it is there but can't be written."""
    if hindrance := _hindrance(file):
        raise _unusable(file, hindrance)


def refuse_odd(file: Path) -> None:
    """CoachError if there is a pipe, a device or a folder in the place of the record or what belongs to it: opening it
    could wait for ever."""
    with suppress(OSError):
        if odd := odd_hindrance(file):
            raise _unusable(file, odd)


def odd_hindrance(file: Path) -> str | None:
    """What stands in the place of the record, or of what belongs to it, that is no file; None if nothing does."""
    if kind := odd_kind(file.parent):
        return f"it is {kind}, not a folder"
    for path in (file, beside(file, "-wal"), beside(file, "-shm")):
        if kind := odd_kind(path):
            return f"{path.name} is {kind}, not a file"
    return None


def _hindrance(file: Path) -> str | None:
    folder = file.parent
    with suppress(OSError):
        if odd := odd_hindrance(file):
            return odd
        if folder.exists() and not folder.is_dir():
            return "it is a file, not a folder"
        if folder.is_dir() and not os.access(folder, os.W_OK | os.X_OK):
            return "the folder is read-only"
        if file.is_dir():
            return f"{file.name} is a folder, not a file"
        for path in (file, beside(file, "-wal"), beside(file, "-shm")):
            if path.exists() and not os.access(path, os.W_OK):
                return f"{shown_path(path.name)} is read-only"
    return None


def damaged(file: Path, found: str) -> CoachError:
    """What is said of a file that cannot be read as a record: what was `found`, and the newest backup."""
    kept: list[Path] = []
    with suppress(OSError):
        kept = backups(file)
    source = f"the newest backup, {shown_path(kept[-1])}, and of " if kept else ""
    return CoachError(
        f"{shown_path(file)}: the file is damaged or is not a record: found {found!r}, expected a sound SQLite "
        f"database; it was left as it is. Make a new record of {source}what can still be read (the old file is kept "
        f"beside it):  coach recover --data {shell_word(file.parent)}"
    )


def damaged_batch(file: Path, name: str, found: str) -> CoachError:
    """What is said of one batch whose entries or row are damaged."""
    return CoachError(
        f"{shown_path(file)}: the batch “{name}” is damaged: {found}; nothing was changed, and the "
        "other batches can be used. Bring back what the backups and the file still hold of it (the old file is kept "
        "beside it):  "
        f"coach recover --data {shell_word(file.parent)}"
    )


def _quick_check(file: Path) -> str | None:
    with suppress(*UNREADABLE), closing(for_reading(file)) as connection:
        finding = str(connection.execute("PRAGMA quick_check(1)").fetchone()[0])
        return None if finding == "ok" else finding.splitlines()[-1]
    return None
