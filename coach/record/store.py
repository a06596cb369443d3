"""The append-only store: batches and their events in an SQLite file, on disk before they are acknowledged."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from coach.errors import CoachError
from coach.record.backups import back_up_daily
from coach.record.chain import beginning, link
from coach.record.files import FILE_NAME
from coach.record.moments import written
from coach.record.presence import Presence
from coach.record.refusals import damaged, explained
from coach.record.rows import BatchRow, Event, NewEvent, Stale, Tally, now
from coach.record.schema import atomic, connect

_PAGE = 1000
SETS_FENCE = "set-fence"
"""The kind of event at which the journal is emptied."""
_ROW = "id, name, started, last, cuts, cuts_done, steps_left, finished, events"


class Store:
    """The record in one folder. It belongs to the thread that opened it.

    Every method raises CoachError when the file can't be used: held by another program, disk full, damaged.
    Then nothing was written.
    """

    def __init__(self, connection: sqlite3.Connection, file: Path, clock: Callable[[], datetime]) -> None:
        self._connection = connection
        self._file = file
        self._clock = clock
        self._presence = Presence(file)

    @classmethod
    def open(cls, folder: Path, *, clock: Callable[[], datetime] = now) -> Store:
        """The record in `folder`; both are made if missing, an older record is backed up and migrated.

        Args:
            folder: where `coach.db` and its `backups` live.
            clock: tells the time that events and backups get; a time without offset is taken as local.

        Raises:
            CoachError: the folder can't be used, or its `coach.db` is damaged, newer or not a record.
        """
        file = folder / FILE_NAME
        with explained(file):
            folder.mkdir(parents=True, exist_ok=True)
            return cls(connect(file, clock), file, clock)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Lets go of the file; closing twice does nothing."""
        with explained(self._file):
            self._connection.close()

    def batches(self) -> list[BatchRow]:
        """All batches: unfinished ones first, among them those most recently worked on first."""
        # By the rows of their latest events, not by times: a clock may be wrong.
        latest = "(SELECT id FROM events WHERE batch = batches.id ORDER BY number DESC LIMIT 1)"
        return self._batches(f"ORDER BY finished, {latest} DESC, id DESC")

    def batch(self, id: int) -> BatchRow:  # noqa: A002 - the name that the row has for it
        """The batch with this id.

        Raises:
            CoachError: there is none.
        """
        found = self._batches("WHERE id = ?", id)
        if not found:
            raise CoachError(f"{self._file}: there is no batch {id} in this record")
        return found[0]

    def batch_named(self, name: str) -> BatchRow | None:
        """The batch with exactly this name, or None."""
        found = self._batches("WHERE name = ?", name)
        return found[0] if found else None

    def start(self, name: str, events: Sequence[NewEvent], tally: Tally) -> BatchRow:
        """Adds a batch with its first events; on disk when this returns.

        Raises:
            CoachError: the name is taken.
        """
        at = self._time()
        return self._add(name, at, _rows(at, 0, events), tally)

    def take_in(self, name: str, started: str, events: Sequence[Event], tally: Tally) -> BatchRow:
        """Adds a batch from elsewhere, whose events keep their numbers and times; on disk when this returns.

        Args:
            name: of the batch in this record.
            started: when it was started, ISO 8601 with offset.
            events: all of the batch, numbered from 1 without a gap; their data is what JSON can hold.
            tally: how far the batch is.

        Raises:
            CoachError: the name is taken.
        """
        return self._add(
            name, started, [(event.number, event.at, event.kind, _json(event.data)) for event in events], tally
        )

    def _add(self, name: str, started: str, new: Sequence[tuple[int, str, str, str]], tally: Tally) -> BatchRow:
        with explained(self._file), atomic(self._connection):
            if self.batch_named(name):
                raise CoachError(
                    f"a batch named “{name}” is in the record already: give this one another name, or resume that one"
                )
            self._connection.execute(
                "INSERT INTO batches (name, started, last, cuts, cuts_done, steps_left, finished, events) "
                "VALUES (?, ?, ?, 0, 0, -1, 0, 0)",
                (name, started, started),
            )
            batch = int(self._connection.execute("SELECT last_insert_rowid()").fetchone()[0])
            self._write(batch, new, tally, beginning(name, started))
            made = self.batch(batch)
        self._written(checkpoint=True)
        return made

    def gone(self) -> str | None:
        """What has become of the record's files if they are no longer the ones that were opened."""
        return self._presence.missing()

    def _written(self, *, checkpoint: bool) -> None:
        """Something is on disk; now and then it goes from the journal to the database itself, so that a journal that
        gets lost costs little. That may wait when another window reads."""
        self._presence.written()
        if checkpoint:
            with suppress(sqlite3.Error):
                self._connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()

    def append(self, batch: int, after: int, events: Sequence[NewEvent], tally: Tally) -> list[Event]:
        """Adds events to a batch, all or none, together with its new tally; on disk when this returns.

        Args:
            batch: its id.
            after: the number of the latest event that the caller has seen.
            events: what happened, in order.
            tally: how far the batch is after them.

        Returns:
            the events as written, exactly as `events` will read them.

        Raises:
            Stale: the batch has other events after `after`; nothing was written.
            CoachError: there is no such batch.
        """
        new = _rows(self._time(), after, events)
        if gone := self._presence.missing():
            raise CoachError(
                f"{gone}: the record was moved, deleted or replaced while it was open, so this was not recorded. "
                f"Leave, put {self._file.parent} back as it was (or see what coach recover finds), and carry on"
            )
        with explained(self._file), atomic(self._connection):
            self.batch(batch)
            latest, before = self._latest(batch)
            if latest != after:
                raise Stale(
                    "another window has written to this batch meanwhile: "
                    f"its latest event is {latest}, this window knows {after}; nothing was written"
                )
            self._write(batch, new, tally, before)
        self._written(checkpoint=any(kind == SETS_FENCE for kind, _ in events))
        return [self._event(batch, *row) for row in new]

    def events(self, batch: int, after: int = 0) -> Iterator[Event]:
        """The events of a batch with numbers above `after`, in order, a page at a time.

        Nothing stays locked between pages, so the caller may append meanwhile.

        Raises:
            CoachError: an event can't be read, isn't what was written, or is missing, be it at the end.
        """
        now = self._link_at(batch, after)
        while True:
            page = self._page(batch, after)
            for number, at, kind, data, stored in page:
                now = link(now, number, at, kind, data) if type(data) is str else ""
                if number != after + 1:
                    raise self._rotten(batch, f"event {after + 1} is missing")
                if now != stored:
                    raise self._rotten(batch, f"event {number} is not what was written")
                yield self._event(batch, number, at, kind, data)
                after = number
            if not page:
                return self._check_end(batch, after, now)

    def events_of_kind(self, batch: int, kind: str) -> list[Event]:
        """The batch's events of one kind, in order; what the others hold isn't even read.

        Raises:
            CoachError: one of them can't be read.
        """
        with explained(self._file):
            rows = self._connection.execute(
                "SELECT number, at, kind, data FROM events WHERE batch = ? AND kind = ? ORDER BY number", (batch, kind)
            )
            return [self._event(batch, *row) for row in rows]

    def latest(self, batch: int) -> int:
        """The number of the batch's latest event, 0 if it has none."""
        with explained(self._file):
            query = "SELECT coalesce(max(number), 0) FROM events WHERE batch = ?"
            return int(self._connection.execute(query, (batch,)).fetchone()[0])

    def backup_of_the_day(self) -> Path | None:
        """Backs the record up unless today has a backup, and keeps the latest 14.

        Returns:
            the new backup, or None if there was no need.
        """
        with explained(self._file):
            return back_up_daily(self._connection, self._file, self._clock())

    def _batches(self, which: str, *values: object) -> list[BatchRow]:
        with explained(self._file):
            rows = self._connection.execute(f"SELECT {_ROW} FROM batches {which}", values)  # noqa: S608 - ours
            return [BatchRow(*(*row[:7], bool(row[7]), row[8])) for row in rows]

    def _link_at(self, batch: int, number: int) -> str:
        """The link of an event, or the one before the first."""
        with explained(self._file):
            if number == 0:
                row = self.batch(batch)
                return beginning(row.name, row.started)
            query = "SELECT sum FROM events WHERE batch = ? AND number = ?"
            found = self._connection.execute(query, (batch, number)).fetchone()
        if found is None:
            raise self._rotten(batch, f"event {number} is missing")
        return str(found[0])

    def _check_end(self, batch: int, last: int, now: str) -> None:
        """CoachError if a batch has lost events at its end, by what its own row says."""
        with explained(self._file):
            query = "SELECT events, sum FROM batches WHERE id = ?"
            count, stored = self._connection.execute(query, (batch,)).fetchone()
        if (count, stored) != (last, now):
            raise self._rotten(batch, f"it has {last} events, {count} were written")

    def _rotten(self, batch: int, found: str) -> CoachError:
        return damaged(self._file, f"batch “{self.batch(batch).name}”: {found}")

    def _latest(self, batch: int) -> tuple[int, str]:
        """The number of the batch's latest event, and its link."""
        query = "SELECT number, sum FROM events WHERE batch = ? ORDER BY number DESC LIMIT 1"
        found = self._connection.execute(query, (batch,)).fetchone()
        return (0, "") if found is None else (int(found[0]), str(found[1]))

    def _write(self, batch: int, new: Sequence[tuple[int, str, str, str]], tally: Tally, before: str) -> None:
        rows = []
        for row in new:
            before = link(before, *row)
            rows.append((batch, *row, before))
        self._connection.executemany(
            "INSERT INTO events (batch, number, at, kind, data, sum) VALUES (?, ?, ?, ?, ?, ?)", rows
        )
        self._connection.execute(
            "UPDATE batches SET last = coalesce(?, last), cuts = ?, cuts_done = ?, steps_left = ?, "
            "finished = ?, events = events + ?, sum = ? WHERE id = ?",
            (
                new[-1][1] if new else None,
                tally.cuts,
                tally.cuts_done,
                tally.steps_left,
                tally.finished,
                len(new),
                before,
                batch,
            ),
        )

    def _page(self, batch: int, after: int) -> list[tuple[int, str, str, str, str]]:
        with explained(self._file):
            query = (
                "SELECT number, at, kind, data, sum FROM events WHERE batch = ? AND number > ? ORDER BY number LIMIT ?"
            )
            return self._connection.execute(query, (batch, after, _PAGE)).fetchall()

    def _event(self, batch: int, number: int, at: str, kind: str, data: str) -> Event:
        try:
            return Event(number, at, kind, json.loads(data))
        except ValueError as error:
            raise damaged(self._file, f"event {number} of batch {batch} is not JSON: {error}") from error

    def moment(self) -> datetime:
        """The present moment by this record's clock, with an offset."""
        moment = self._clock()
        return moment if moment.tzinfo else moment.astimezone()

    def _time(self) -> str:
        return written(self.moment())


def _rows(at: str, after: int, events: Sequence[NewEvent]) -> list[tuple[int, str, str, str]]:
    return [(number, at, kind, _json(data)) for number, (kind, data) in enumerate(events, after + 1)]


def _json(data: Mapping[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
