"""A record that is missing isn't a new one: what was there before leaves traces."""

from __future__ import annotations

import os
import re
from datetime import datetime
from pathlib import Path

from coach.ground.clean import shell_word, shown_path
from coach.ground.errors import CoachError
from coach.record.disk.files import backups, beside

LOGS = ("-wal", "-shm")
_DAY = re.compile(r"coach-(\d{4})(\d\d)(\d\d)-")


def kept_copies(file: Path) -> list[Path]:
    """The damaged records that a recovery, or a new beginning, has kept beside `file`, oldest first."""
    return sorted(path for path in file.parent.glob("coach-damaged-*.db") if path.is_file())


def is_missing(file: Path) -> bool:
    """Whether `file` isn't there, or is empty, though there are traces of a record: backups, a journal or a kept copy.

    SQLite would make a new record of it, and delete the journal.
    """
    try:
        if file.stat().st_size:
            return False
    except FileNotFoundError:
        pass
    return bool(backups(file) or kept_copies(file) or _has_journal(file))


def refuse_missing(file: Path) -> None:
    """CoachError if the record is missing: what of it is there, and what can be done.

    Raises:
        OSError: for `explained`.
    """
    if not is_missing(file):
        return
    found = "is empty" if file.exists() else "is not there"
    traces = []
    if _has_journal(file):
        traces.append("its journal")
    if kept := kept_copies(file):
        traces.append(f"a damaged copy ({kept[-1].name})")
    if older := backups(file):
        day = _DAY.match(older[-1].name)
        when = f", the latest of {'-'.join(day.groups())}" if day else ""
        traces.append(f"{len(older)} backup{'' if len(older) == 1 else 's'}{when}")
    folder = shell_word(file.parent)
    raise CoachError(
        f"{shown_path(file)}: the record {found}, but {' and '.join(traces)} can be read; nothing was changed. "
        f"Bring the batches back:  coach recover --data {folder}   "
        f"Or start with an empty record, and keep what is there beside it:  coach --new-record --data {folder}"
    )


def make_way(file: Path, at: datetime) -> None:
    """Puts aside what is left of a missing record, so that a new one can be made.

    Raises:
        CoachError: there is a record.
        OSError: for `explained`.
    """
    if file.exists() and file.stat().st_size:
        raise CoachError(
            f"{shown_path(file)}: there is a record here; --new-record is for a folder where it is missing"
        )
    kept = kept_name(file, at)
    for suffix in LOGS:
        if beside(file, suffix).exists():
            beside(file, suffix).rename(beside(kept, suffix))
    file.unlink(missing_ok=True)


def kept_name(file: Path, at: datetime) -> Path:
    """A name for a damaged record that nothing has yet."""
    stem = name = f"coach-damaged-{at.year:04}{at:%m%d-%H%M%S}"
    again = 1
    while any(os.path.lexists(file.with_name(f"{name}.db{suffix}")) for suffix in ("", *LOGS)):
        again += 1
        name = f"{stem}-{again}"
    return file.with_name(f"{name}.db")


def _has_journal(file: Path) -> bool:
    try:
        return beside(file, "-wal").stat().st_size > 0
    except OSError:
        return False
