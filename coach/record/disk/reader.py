"""Reading the record: batches and their events, each held against its checksum."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.record.chain import SEALED_COLUMNS, beginning, link
from coach.record.disk.files import UNREADABLE
from coach.record.disk.refusals import damaged_batch, explained
from coach.record.json_text import quick_json
from coach.record.rows import BatchRow, Event, Leftover, Snapshot, batch_row, leftover

_PAGE = 1000


class Reader:
    """The record in one folder, as far as it is read. It belongs to the thread that opened it.

    Every method raises CoachError when the file can't be used: held by another program, damaged.
    """

    def __init__(self, connection: sqlite3.Connection, file: Path) -> None:
        self._connection = connection
        self._file = file

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

    @property
    def file(self) -> Path:
        """The record's file."""
        return self._file

    def batches(self) -> list[BatchRow]:
        """All batches: unfinished ones first, among them those most recently worked on first; one whose row is damaged
        says so in its `fault`."""
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
            raise CoachError(f"{shown_path(self._file)}: there is no batch {id} in this record")
        return found[0]

    def batch_named(self, name: str) -> BatchRow | None:
        """The batch with exactly this name, or None."""
        found = self._batches("WHERE name = ?", name)
        return found[0] if found else None

    def events(self, batch: int, after: int = 0) -> Iterator[Event]:
        """The events of a batch with numbers above `after`, in order, a page at a time.

        Nothing stays locked between pages, so the caller may append meanwhile.

        Raises:
            CoachError: an event can't be read, isn't what was written, or is missing, be it at the end.
        """
        for number, at, kind, data in self.texts(batch, after):
            yield self.event_of(batch, number, at, kind, data)

    def texts(self, batch: int, after: int = 0) -> Iterator[tuple[int, str, str, str]]:
        """As `events`, each as number, time, kind and data as they are stored: the data is JSON in a line."""
        row = self.batch(batch)
        if row.fault:
            raise self.rotten(batch, row.fault)
        now = self._link_at(row, after)
        while True:
            page = self._page(batch, after)
            for number, at, kind, data, stored in page:
                now = link(now, number, at, kind, data) if type(data) is type(at) is type(kind) is str else ""
                if number != after + 1:
                    raise self.rotten(batch, f"event {after + 1} is missing")
                if now != stored:
                    raise self.rotten(batch, f"event {number} is not what was written")
                yield number, at, kind, data
                after = number
            if not page:
                return self._check_end(batch, after, now)

    def events_of_kind(self, batch: int, kind: str) -> list[Event]:
        """The batch's events of one kind, in order; what the others hold isn't even read.

        Raises:
            CoachError: one of them can't be read.
        """
        query = "SELECT number, at, kind, data FROM events WHERE batch = ? AND kind = ? ORDER BY number"
        with explained(self._file):
            try:
                rows = self._connection.execute(query, (batch, kind)).fetchall()
            except sqlite3.OperationalError as error:
                raise self._unreadable(batch, error) from error
        return [self.event_of(batch, *row) for row in rows]

    def latest(self, batch: int) -> int:
        """The number of the batch's latest event, 0 if it has none."""
        with explained(self._file):
            return self._latest(batch)[0]

    def leftovers(self, batch: int) -> list[Leftover]:
        """What a recovery could read of a batch but not count, in order; it is told, and nothing follows from it."""
        query = "SELECT why, number, at, kind, data FROM leftovers WHERE batch = ? ORDER BY id"
        return [leftover(*row) for row in self._rows_of_any_text(query, batch)]

    def snapshots(self, batch: int) -> list[Snapshot]:
        """The batch's snapshots that are as they were written, the latest first; whatever is wrong with one, it is as
        if there were none."""
        query = "SELECT number, link, data, sum FROM snapshots WHERE batch = ? ORDER BY number DESC"
        try:
            found = [Snapshot(*row) for row in self._connection.execute(query, (batch,)).fetchall()]
            link_of = "SELECT sum FROM events WHERE batch = ? AND number = ?"
            return [
                one
                for one in found
                if one.is_whole() and self._connection.execute(link_of, (batch, one.number)).fetchone() == (one.link,)
            ]
        except UNREADABLE:
            return []

    def rotten(self, batch: int, found: str) -> CoachError:
        """What is said of a batch in which `found` is wrong."""
        return damaged_batch(self._file, self.batch(batch).name, found)

    def _batches(self, which: str, *values: object) -> list[BatchRow]:
        query = f"SELECT id, {SEALED_COLUMNS}, seal FROM batches {which}"  # noqa: S608 - ours
        return [batch_row(row) for row in self._rows_of_any_text(query, *values)]

    def _rows_of_any_text(self, query: str, *values: object) -> list[tuple[Any, ...]]:
        """All rows; a text that isn't UTF-8 comes as well as it can be shown."""
        with explained(self._file):
            try:
                return self._connection.execute(query, values).fetchall()
            except sqlite3.OperationalError as error:
                if getattr(error, "sqlite_errorcode", None) is not None:
                    raise
                self._connection.text_factory = _some_text
                try:
                    return self._connection.execute(query, values).fetchall()
                finally:
                    self._connection.text_factory = str

    def _link_at(self, row: BatchRow, number: int) -> str:
        """The link of an event, or the one before the first."""
        if number == 0:
            return beginning(row.name, row.started)
        with explained(self._file):
            query = "SELECT sum FROM events WHERE batch = ? AND number = ?"
            found = self._connection.execute(query, (row.id, number)).fetchone()
        if found is None:
            raise self.rotten(row.id, f"event {number} is missing")
        return str(found[0])

    def _check_end(self, batch: int, last: int, now: str) -> None:
        """CoachError if a batch has lost events at its end, by what its own row says."""
        with explained(self._file):
            query = "SELECT events, sum FROM batches WHERE id = ?"
            count, stored = self._connection.execute(query, (batch,)).fetchone()
        if (count, stored) != (last, now):
            raise self.rotten(batch, f"it has {last} events, {count} were written")

    def _latest(self, batch: int) -> tuple[int, str]:
        """The number of the batch's latest event, and its link."""
        query = "SELECT number, sum FROM events WHERE batch = ? ORDER BY number DESC LIMIT 1"
        found = self._connection.execute(query, (batch,)).fetchone()
        if found is None:
            return 0, ""
        if type(found[0]) is not int:
            raise self.rotten(batch, "an event's number is none")
        return found[0], str(found[1])

    def _page(self, batch: int, after: int) -> list[tuple[Any, ...]]:
        query = "SELECT number, at, kind, data, sum FROM events WHERE batch = ? AND number > ? ORDER BY number LIMIT ?"
        with explained(self._file):
            try:
                return self._connection.execute(query, (batch, after, _PAGE)).fetchall()
            except sqlite3.OperationalError as error:
                raise self._unreadable(batch, error) from error

    def _unreadable(self, batch: int, error: sqlite3.OperationalError) -> Exception:
        """What to raise for an error of which SQLite's library itself knows nothing: a text that isn't UTF-8."""
        known = getattr(error, "sqlite_errorcode", None) is not None
        return error if known else self.rotten(batch, "an event holds what is no text")

    def event_of(self, batch: int, number: int, at: str, kind: str, data: str) -> Event:
        """An event whose text is `data`; CoachError if that is no JSON that was kept."""
        try:
            return Event(number, at, kind, quick_json(data))
        except (ValueError, TypeError) as error:
            raise self.rotten(batch, f"event {number} is not JSON that was kept") from error


def _some_text(raw: bytes) -> str:
    return raw.decode(errors="replace")
