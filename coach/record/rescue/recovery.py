"""Makes a new record where the old one is damaged or missing: each batch from the copies that still have it."""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.record.batch.events import tally_of
from coach.record.batch.proving import sense_of
from coach.record.disk.files import FILE_NAME, LOCKED_BYTES, backups, beside
from coach.record.disk.missing import LOGS, kept_copies, kept_name
from coach.record.disk.refusals import explained, refuse_odd, refuse_read_only
from coach.record.disk.store import Store
from coach.record.exchange import free_name, keep_names
from coach.record.json_text import quick_json
from coach.record.kinds import START
from coach.record.progress import Progress, quiet
from coach.record.rescue.copies import Copy, Heading, Row, fault_of, read_backup, read_damaged
from coach.record.rescue.salvage import GAP, OTHER_COURSE, Salvaged, put_together, whole_in
from coach.record.rows import Event, Tally

_WORK = ".coach-recover-"
OLD_FILE = "the old file"


@dataclass(frozen=True, slots=True)
class Recovered:
    """What was recovered, and what was not.

    Attributes:
        kept: the damaged file under its new name, its bytes unchanged; None if there was none.
        backups: those from which something was taken.
        batches: the names in the new record.
        events: how many events it holds.
        lost: the batches that could not be recovered.
        left_out: how many events could be read but don't count: they come after a gap, contradict what is before them,
            or tell of another course of the work. They are kept with their batches.
        lines: all that in plain words.
    """

    kept: Path | None
    backups: tuple[Path, ...]
    batches: tuple[str, ...]
    events: int
    lost: tuple[str, ...]
    left_out: int
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Taken:
    """A batch as it was taken into the new record."""

    line: str
    lost: bool = False
    short: bool = False
    left_out: int = 0


def recover(folder: Path, *, clock: Callable[[], datetime], say: Progress = quiet) -> Recovered:
    """Makes a new `coach.db` in `folder` where the old one is damaged or missing; a damaged one is kept beside it under
    another name.

    Each batch comes from the copies that have most of it: the old file, its journal, and all backups. Nothing changes
    before the new record is whole and on disk.

    Args:
        folder: where the record and its backups live.
        clock: tells the time for the name under which the damaged file is kept.
        say: told how far it is.

    Raises:
        CoachError: the record is sound and no backup has more, or it is a newer coach's or another program's; another
            window has it open; the folder or its disk can't be used. Then everything is as it was.
    """
    file = folder / FILE_NAME
    with explained(file), ExitStack() as stack:
        refuse_odd(file)
        refuse_read_only(file)
        there = file.exists()
        traces = backups(file) or kept_copies(file) or any(beside(file, suffix).exists() for suffix in LOGS)
        if not there and not traces:
            raise CoachError(
                f"{shown_path(file)}: there is no record here and no backup of one; name its folder with --data DIR"
            )
        kept = _kept_name(file, clock())
        held = stack.enter_context(_held_alone(file)) if there else None
        work = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix=_WORK, dir=folder)))
        fault = "it is missing" if held is None else _fault(file, _copied(held, file, kept, work / "seen"), say)
        Store.open(work / "whole", clock=clock).close()
        copy = _copied(held, file, kept, work / "read")
        old = read_damaged(copy, work / "whole" / FILE_NAME, OLD_FILE, say, sound=fault is None)
        others = [] if held is not None else _kept_before(file, work)
        copies, unusable = _all_copies(file, old, others)
        found = put_together(copies)
        if fault is None:
            _refuse_sound(file, found)
            fault = "it is sound, but there is more in the backups"
        with Store.open(work / "new", clock=clock) as store:
            told = []
            for place, batch in enumerate(found):
                say("writing the new record", place / len(found))
                told.append(_take_in(store, batch))
            rows = store.batches()
        _swap(file, work / "new" / FILE_NAME, kept)
    used = tuple(path for path in backups(file) if any(_backup_called(path) in batch.sources for batch in found))
    lines = [f"{shown_path(file)}: {fault}."]
    if there:
        lines.append(f"The old file is kept as {shown_path(kept.name)}, unchanged.")
    lines += [f"The backup {shown_path(path.name)} can't be used." for path in unusable]
    if not backups(file):
        lines.append("There is no backup to take from.")
    lines += [one.line for one in told] or ["Nothing could be read: the new record is empty."]
    if any(one.short for one in told):
        lines.append("Look at the boards before you cut: the walk asks again for what the record no longer knows.")
    return Recovered(
        kept if there else None,
        used,
        tuple(row.name for row in rows),
        sum(row.events for row in rows),
        tuple(batch.called for batch, one in zip(found, told, strict=True) if one.lost),
        sum(one.left_out for one in told),
        tuple(lines),
    )


def _kept_name(file: Path, at: datetime) -> Path:
    """A name that nothing has yet, or the one that an interrupted recovery has given the file already."""
    for path in kept_copies(file):
        if file.exists() and path.samefile(file):
            return path
    return kept_name(file, at)


@contextmanager
def _held_alone(file: Path) -> Iterator[BinaryIO]:
    """The open file, which nobody else has open or can open meanwhile. SQLite never sees it: it would tidy it up."""
    with file.open("r+b") as held:
        try:
            fcntl.lockf(held, fcntl.LOCK_EX | fcntl.LOCK_NB, *LOCKED_BYTES)
        except (BlockingIOError, PermissionError) as error:
            raise CoachError(
                f"{shown_path(file)}: another window has the record open; nothing was changed. Close it and try again"
            ) from error
        for left in file.parent.glob(f"{_WORK}*"):
            shutil.rmtree(left, ignore_errors=True)
        yield held


def _copied(held: BinaryIO | None, file: Path, kept: Path, folder: Path) -> Path:
    """A copy of the file and its log. Through `held`, since closing the file once more would give up the lock."""
    folder.mkdir()
    copy = folder / FILE_NAME
    if held is not None:
        held.seek(0)
        with copy.open("wb") as target:
            shutil.copyfileobj(held, target)
    log = next((path for path in (beside(file, "-wal"), beside(kept, "-wal")) if path.exists()), None)
    if log is not None:
        shutil.copyfile(log, beside(copy, "-wal"))
    return copy


def _fault(file: Path, copy: Path, say: Progress) -> str | None:
    if not copy.stat().st_size:
        return "it is empty"
    try:
        fault = fault_of(copy, say)
    except CoachError as error:
        raise error.at(shown_path(file)) from error
    return None if fault is None else f"it is damaged ({fault})"


def _kept_before(file: Path, work: Path) -> list[Copy]:
    """The damaged records that were kept beside a missing one."""
    found = []
    for number, path in enumerate(reversed(kept_copies(file))):
        folder = work / f"kept-{number}"
        folder.mkdir()
        copy = folder / FILE_NAME
        shutil.copyfile(path, copy)
        if beside(path, "-wal").exists():
            shutil.copyfile(beside(path, "-wal"), beside(copy, "-wal"))
        found.append(read_damaged(copy, work / "whole" / FILE_NAME, path.name))
    return found


def _all_copies(file: Path, old: Copy, others: list[Copy]) -> tuple[list[Copy], list[Path]]:
    """The copies that are needed, and the backups that can't be read at all.

    Of a backup, batches aren't needed that the old file, or a newer backup, has whole with the same last event.
    """
    whole = _Whole()
    whole.take(old)
    found: list[Copy] = []
    unusable = []
    for path in reversed(backups(file)):
        backup = read_backup(path, _backup_called(path), whole.has)
        if backup is None:
            unusable.append(path)
        else:
            found.append(backup)
            whole.take(backup)
    return [*found, old, *others], unusable


class _Whole:
    """The batches that copies have whole, by name and beginning."""

    def __init__(self) -> None:
        self._rows: dict[tuple[str, str], list[Mapping[int, Sequence[Row]]]] = {}

    def take(self, copy: Copy) -> None:
        """Another copy was read."""
        for batch, heading in copy.headings.items():
            if whole_in(copy, batch):
                self._rows.setdefault((heading.name, heading.started), []).append(copy.rows[batch])

    def has(self, heading: Heading) -> bool:
        """Whether all that a batch's row speaks of is had, since its last event is."""
        return heading.sealed and any(
            row[4] == heading.last
            for rows in self._rows.get((heading.name, heading.started), ())
            for row in rows.get(heading.events, ())
        )


def _backup_called(path: Path) -> str:
    return f"the backup {shown_path(path.name)}"


def _refuse_sound(file: Path, found: list[Salvaged]) -> None:
    """CoachError if the record is sound and nothing more than it holds was found."""
    if all(batch.sources == (OLD_FILE,) and not batch.leftovers for batch in found):
        raise CoachError(f"{shown_path(file)}: the record is sound: nothing to recover, and nothing was changed")


def _take_in(store: Store, batch: Salvaged) -> _Taken:
    """Adds what there is of a batch to the new record, and says what that is."""
    events, broken = _events(batch.rows)
    sense = sense_of(events)
    if sense.good < 2 or events[0].kind != START:
        return _Taken(f"{batch.called} is lost: its layouts and settings can't be read.", lost=True)
    why = sense.why or broken
    rest = [(f"after what makes no sense: {why}", row) for row in batch.rows[sense.good :]]
    left = [*rest, *batch.leftovers]
    name = free_name(store, batch.name or "recovered")
    tally = Tally(0, 0, -1, finished=False) if sense.walker is None else tally_of(sense.walker)
    texts = [row[:4] for row in batch.rows[: sense.good]]
    started = batch.started or events[0].at
    store.put_back(name, started, texts, tally, [(why, row[:4]) for why, row in left])
    have = len(texts)
    short = have < batch.known
    said = (
        f"{tally.cuts_done} of {tally.cuts} cuts done; " if sense.walker else f"how far it is can't be told ({why}); "
    )
    said += f"{have} of {batch.known} entries" if short else f"all of its {have} entries are there"
    said += f", from {' and '.join(batch.sources)}"
    if rest:
        said += f"; it goes on from entry {have}, since {why}"
    said += "".join(
        _left_words(why, sum(1 for reason, _ in left if reason == why), have) for why in (GAP, OTHER_COURSE)
    )
    if batch.unsure:
        said += "; nothing says that its layouts and shop are as they were written, so look them over"
    if left:
        said += f"; what doesn't count is kept:  coach log lists it under “{name}”"
    return _Taken(f"“{name}”: {said}.", short=short, left_out=len(left))


def _left_words(why: str, count: int, have: int) -> str:
    if not count:
        return ""
    what = "tell of another course of the work" if why == OTHER_COURSE else f"entry {have + 1} before them can't"
    return f"; {count} more could be read, but {what}"


def _events(rows: Sequence[Row]) -> tuple[list[Event], str]:
    """The events of rows up to the first that is no JSON, and what is wrong with that one."""
    events: list[Event] = []
    for number, at, kind, data, _ in rows:
        try:
            events.append(Event(number, at, kind, quick_json(data)))
        except ValueError as error:
            return events, f"event {number} is not JSON: {error}"
    return events, ""


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
    for suffix in LOGS:
        if beside(file, suffix).exists():
            beside(file, suffix).rename(beside(kept, suffix))
    new.replace(file)
    keep_names(file.parent)
