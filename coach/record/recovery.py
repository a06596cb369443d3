"""Makes a new record where the old one is damaged: of the newest usable backup and of what can still be read."""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from coach.errors import CoachError
from coach.record.events import tally_of
from coach.record.exchange import free_name, keep_names
from coach.record.files import FILE_NAME, backups, beside
from coach.record.proving import folded
from coach.record.refusals import explained, refuse_read_only
from coach.record.rows import Tally
from coach.record.salvage import NOTHING, Salvaged, fault_of, merged, read_backup, read_damaged, usable_backup
from coach.record.session import name_after
from coach.record.shapes import misfit
from coach.record.store import Store
from coach.record.stored import layout_from_json

_LOGS = ("-wal", "-shm")
_LOCKED_BYTES = (510, 0x40000002)  # how many and from where: whoever has a database open holds a lock on one of them
_WORK = ".coach-recover-"


@dataclass(frozen=True, slots=True)
class Recovered:
    """What was recovered, and what was not.

    Attributes:
        kept: the damaged file under its new name, its bytes unchanged; None if there was none.
        backup: the backup that was used, if any.
        batches: the names in the new record.
        events: how many events it holds.
        lost: the batches that could not be recovered.
        left_out: how many events could be read but come after one that can't.
        lines: all that in plain words.
    """

    kept: Path | None
    backup: Path | None
    batches: tuple[str, ...]
    events: int
    lost: tuple[str, ...]
    left_out: int
    lines: tuple[str, ...]


def recover(folder: Path, *, clock: Callable[[], datetime]) -> Recovered:
    """Makes a new `coach.db` in `folder` where the old one is damaged; that is kept beside it under another name.

    Nothing changes before the new one is whole and on disk.

    Args:
        folder: where the record and its backups live.
        clock: tells the time for the name under which the damaged file is kept.

    Raises:
        CoachError: the record is sound, a newer coach's or another program's; another window has it open; the folder
            or its disk can't be used. Then everything is as it was.
    """
    file = folder / FILE_NAME
    with explained(file), ExitStack() as stack:
        refuse_read_only(file)
        there = file.exists()
        if not there and not backups(file):
            raise CoachError(f"{file}: there is no record here and no backup of one; name its folder with --data DIR")
        kept = _kept_name(file, clock())
        held = stack.enter_context(_held_alone(file)) if there else None
        work = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix=_WORK, dir=folder)))
        fault = "it is missing" if held is None else _fault(file, _copied(held, file, kept, work / "seen"))
        backup, unusable = _newest_usable(file)
        Store.open(work / "whole", clock=clock).close()
        damaged = NOTHING
        if held is not None:
            damaged = read_damaged(_copied(held, file, kept, work / "read"), work / "whole" / FILE_NAME)
        found = merged(NOTHING if backup is None else read_backup(backup), damaged)
        with Store.open(work / "new", clock=clock) as store:
            told = [_take_in(store, batch) for batch in found]
            rows = store.batches()
        _swap(file, work / "new" / FILE_NAME, kept)
    lines = [f"{file}: {fault}."]
    if there:
        lines.append(f"The old file is kept as {kept.name}, unchanged.")
    lines += [f"The backup {path.name} can't be used." for path in unusable]
    if backup is None:
        lines.append("There is no backup to take from.")
    else:
        lines.append(f"Taken from the backup {backup.name}{', and what the old file has more' if there else ''}.")
    lines += told or ["Nothing could be read: the new record is empty."]
    if any(batch.has_beginning and len(batch.events) < batch.known for batch in found):
        lines.append("Look at the boards before you cut: the walk asks again for what the record no longer knows.")
    return Recovered(
        kept if there else None,
        backup,
        tuple(row.name for row in rows),
        sum(row.events for row in rows),
        tuple(_called(batch) for batch in found if not batch.has_beginning),
        sum(batch.left_out for batch in found),
        tuple(lines),
    )


def _kept_name(file: Path, at: datetime) -> Path:
    """A name that nothing has yet, or the one that an interrupted recovery has given the file already."""
    for path in file.parent.glob("coach-damaged-*.db"):
        if file.exists() and path.samefile(file):
            return path
    stem = name = f"coach-damaged-{at.year:04}{at:%m%d-%H%M%S}"
    again = 1
    while any(os.path.lexists(file.with_name(f"{name}.db{suffix}")) for suffix in ("", *_LOGS)):
        again += 1
        name = f"{stem}-{again}"
    return file.with_name(f"{name}.db")


@contextmanager
def _held_alone(file: Path) -> Iterator[BinaryIO]:
    """The open file, which nobody else has open or can open meanwhile. SQLite never sees it: it would tidy it up."""
    with file.open("r+b") as held:
        try:
            fcntl.lockf(held, fcntl.LOCK_EX | fcntl.LOCK_NB, *_LOCKED_BYTES)
        except (BlockingIOError, PermissionError) as error:
            raise CoachError(
                f"{file}: another window has the record open; nothing was changed. Close it and try again"
            ) from error
        for left in file.parent.glob(f"{_WORK}*"):
            shutil.rmtree(left, ignore_errors=True)
        yield held


def _copied(held: BinaryIO, file: Path, kept: Path, folder: Path) -> Path:
    """A copy of the file and its log. Through `held`, since closing the file once more would give up the lock."""
    folder.mkdir()
    copy = folder / FILE_NAME
    held.seek(0)
    with copy.open("wb") as target:
        shutil.copyfileobj(held, target)
    log = next((path for path in (beside(file, "-wal"), beside(kept, "-wal")) if path.exists()), None)
    if log is not None:
        shutil.copyfile(log, beside(copy, "-wal"))
    return copy


def _fault(file: Path, copy: Path) -> str:
    try:
        fault = fault_of(copy)
    except CoachError as error:
        raise error.at(str(file)) from error
    if fault is None:
        raise CoachError(f"{file}: the record is sound: nothing to recover, and nothing was changed")
    return f"it is damaged ({fault})"


def _newest_usable(file: Path) -> tuple[Path | None, list[Path]]:
    unusable: list[Path] = []
    for path in reversed(backups(file)):
        if usable_backup(path):
            return path, unusable
        unusable.append(path)
    return None, unusable


def _take_in(store: Store, batch: Salvaged) -> str:
    """Adds what there is of a batch to the new record, and says what that is."""
    called = _called(batch)
    if not batch.has_beginning:
        return f"{called} is lost: its layouts and settings can't be read."
    heading = batch.heading
    name = free_name(store, _name(batch))
    try:
        tally = tally_of(folded(batch.events))
        said = f"{tally.cuts_done} of {tally.cuts} cuts done; "
    except CoachError as error:
        tally = Tally(heading.cuts if heading else 0, heading.cuts_done if heading else 0, -1, finished=False)
        said = f"how far it is can't be told ({error}); "
    store.take_in(name, heading.started if heading else batch.events[0].at, batch.events, tally)
    have = len(batch.events)
    said += f"all of its {have} entries are there" if have >= batch.known else f"{have} of {batch.known} entries"
    if batch.left_out:
        said += f"; {batch.left_out} more could be read, but "
        said += "tell of another course of the work" if batch.parted else f"entry {have + 1} before them can't"
    if batch.contested and not batch.parted:
        said += f"; {batch.contested} read otherwise in the old file, as in the backup they were kept"
    return f"“{name}”: {said}."


def _name(batch: Salvaged) -> str:
    if batch.heading is not None:
        return batch.heading.name
    start = batch.events[0]
    return "recovered" if misfit(start) else name_after([layout_from_json(one) for one in start.data["layouts"]])


def _called(batch: Salvaged) -> str:
    return "A batch whose name can't be read" if batch.heading is None else f"“{batch.heading.name}”"


def _swap(file: Path, new: Path, kept: Path) -> None:
    """Puts `new` in the place of `file`, which goes on as `kept` with what belongs to it.

    A kill in between leaves the old file under one name or both, so that recovering again goes on from there. The log
    must be gone before the new file comes: SQLite would take it for its own.
    """
    if file.exists() and not kept.exists():
        try:
            os.link(file, kept)
        except OSError:  # not every file system has hard links
            file.rename(kept)
    for suffix in _LOGS:
        if beside(file, suffix).exists():
            beside(file, suffix).rename(beside(kept, suffix))
    new.replace(file)
    keep_names(file.parent)
