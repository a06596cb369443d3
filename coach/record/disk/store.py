"""The append-only store: batches and their events in an SQLite file, on disk before they are acknowledged."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path

from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.record.chain import beginning, link, seal, snapshot_sum
from coach.record.disk.backups import back_up_daily
from coach.record.disk.files import FILE_NAME, beside_the_store
from coach.record.disk.missing import make_way, refuse_missing
from coach.record.disk.presence import Presence
from coach.record.disk.reader import Reader
from coach.record.disk.refusals import explained, refuse_odd
from coach.record.disk.schema import atomic, connect
from coach.record.moments import written
from coach.record.rows import BatchRow, Event, NewEvent, Stale, Tally, Text, now

SETS_FENCE = "set-fence"
"""The kind of event at which the journal is emptied."""


class Store(Reader):
    """The record in one folder, to read and to add to. It belongs to the thread that opened it.

    Every method raises CoachError when the file can't be used: held by another program, disk full, damaged.
    Then nothing was written.
    """

    def __init__(self, connection: sqlite3.Connection, file: Path, clock: Callable[[], datetime]) -> None:
        super().__init__(connection, file)
        self._clock = clock
        self._presence = Presence(file)

    @classmethod
    def open(cls, folder: Path, *, clock: Callable[[], datetime] = now, anew: bool = False) -> Store:
        """The record in `folder`; both are made if nothing says that one was there before, an older record is backed up
        and migrated.

        Args:
            folder: where `coach.db` and its `backups` live.
            clock: tells the time that events and backups get; a time without offset is taken as local.
            anew: an empty record is to be made where the old one is missing, though there are traces of it.

        Raises:
            CoachError: the folder can't be used, or its `coach.db` is missing, damaged, newer or not a record.
        """
        file = folder / FILE_NAME
        with explained(file):
            refuse_odd(file)
            folder.mkdir(parents=True, exist_ok=True)
            if anew:
                make_way(file, clock())
            else:
                refuse_missing(file)
            return cls(connect(file, clock), file, clock)

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

    def put_back(
        self, name: str, started: str, texts: Sequence[Text], tally: Tally, leftovers: Sequence[tuple[str, Text]]
    ) -> BatchRow:
        """Adds a recovered batch, as `take_in`, its events as they were stored, and what is kept beside it.

        Args:
            leftovers: events that could be read but don't count, each with why.
        """
        return self._add(name, started, texts, tally, leftovers)

    def _add(
        self,
        name: str,
        started: str,
        new: Sequence[Text],
        tally: Tally,
        leftovers: Sequence[tuple[str, Text]] = (),
    ) -> BatchRow:
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
            self._connection.executemany(
                "INSERT INTO leftovers (batch, why, number, at, kind, data) VALUES (?, ?, ?, ?, ?, ?)",
                [(batch, why, *row) for why, row in leftovers],
            )
            made = self.batch(batch)
        self._written(checkpoint=True)
        return made

    def keep_snapshot(self, batch: int, number: int, data: str) -> None:
        """Keeps what a batch's events up to `number` lead to, and of the earlier snapshots the latest. That may fail:
        without it only resuming takes longer."""
        with suppress(sqlite3.Error), atomic(self._connection):
            query = "SELECT sum FROM events WHERE batch = ? AND number = ?"
            (last,) = self._connection.execute(query, (batch, number)).fetchone()
            older = "SELECT id FROM snapshots WHERE batch = ? ORDER BY number DESC LIMIT -1 OFFSET 1"
            self._connection.execute(f"DELETE FROM snapshots WHERE id IN ({older})", (batch,))  # noqa: S608 - ours
            self._connection.execute(
                "INSERT INTO snapshots (batch, number, link, data, sum) VALUES (?, ?, ?, ?, ?)",
                (batch, number, last, data, snapshot_sum(number, last, data)),
            )
            self._presence.written()

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
                f"Leave, put {shown_path(self._file.parent)} back as it was (or see what coach recover finds), and "
                "carry on"
            )
        with explained(self._file), atomic(self._connection):
            row = self.batch(batch)
            if row.fault:
                raise self.rotten(batch, row.fault)
            latest, before = self._latest(batch)
            if latest != after:
                raise Stale(
                    "another window has written to this batch meanwhile: "
                    f"its latest event is {latest}, this window knows {after}; nothing was written"
                )
            self._write(batch, new, tally, before)
        self._written(checkpoint=any(kind == SETS_FENCE for kind, _ in events))
        return [Event(number, at, kind, json.loads(data)) for number, at, kind, data in new]

    def backup_of_the_day(self) -> Path | None:
        """Backs the record up unless today has a backup, and keeps the latest 14; may be called from any thread.

        Returns:
            the new backup, or None if there was no need.
        """
        with explained(self._file), closing(beside_the_store(self._file)) as connection:
            return back_up_daily(connection, self._file, self._clock())

    def _write(self, batch: int, new: Sequence[Text], tally: Tally, before: str) -> None:
        rows = []
        for row in new:
            before = link(before, *row)
            rows.append((batch, *row, before))
        self._connection.executemany(
            "INSERT INTO events (batch, number, at, kind, data, sum) VALUES (?, ?, ?, ?, ?, ?)", rows
        )
        query = "SELECT name, started, last, events FROM batches WHERE id = ?"
        name, started, last, count = self._connection.execute(query, (batch,)).fetchone()
        last = new[-1][1] if new else last
        far = (tally.cuts, tally.cuts_done, tally.steps_left, int(tally.finished), count + len(new), before)
        self._connection.execute(
            "UPDATE batches SET last = ?, cuts = ?, cuts_done = ?, steps_left = ?, finished = ?, events = ?, sum = ?, "
            "seal = ? WHERE id = ?",
            (last, *far, seal(name, started, last, *far), batch),
        )

    def moment(self) -> datetime:
        """The present moment by this record's clock, with an offset."""
        moment = self._clock()
        return moment if moment.tzinfo else moment.astimezone()

    def _time(self) -> str:
        return written(self.moment())


def _rows(at: str, after: int, events: Sequence[NewEvent]) -> list[Text]:
    return [(number, at, kind, _json(data)) for number, (kind, data) in enumerate(events, after + 1)]


_json = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode
