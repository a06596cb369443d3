"""One copy of a record, sound or damaged: whatever rows of it can be read, each held against its checksum later."""

from __future__ import annotations

import shutil
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from coach.ground.errors import CoachError
from coach.ground.names import clean_text
from coach.record.batch.proving import sense_of
from coach.record.chain import SEALED_COLUMNS, beginning, fault_in, link, seal
from coach.record.disk.files import UNREADABLE, beside, for_reading
from coach.record.disk.journal import Journal, forced, journal_of
from coach.record.disk.schema import MIGRATIONS, Identity
from coach.record.json_text import quick_json
from coach.record.moments import is_moment
from coach.record.progress import Progress, quiet
from coach.record.rescue.carving import rows_in
from coach.record.rows import Event, batch_row

TABLES = frozenset({"batches", "events"})
Row = tuple[int, str, str, str, str]
"""An event as it is stored: number, time, kind, data, link (empty where the schema has none)."""

_SMALLEST_ROW = 60  # bytes: the time alone takes 29, a row of an index of its own comes with each
_CHUNK = 1000
_FIRST_BYTES = 512
_COMING_VERSIONS = 100  # a schema's version beyond these is a flipped bit
_PAGE_COUNT = slice(28, 32)  # where a database's first page says how many there are


@dataclass(frozen=True, slots=True)
class Heading:
    """What a row of the table of batches says.

    Attributes:
        events: how many it has.
        last: the link of the last.
        sealed: whether its seal is whole, or there was none yet.
        proven: whether it has a seal that is whole.
    """

    name: str
    started: str
    events: int
    last: str
    sealed: bool
    proven: bool


@dataclass
class Copy:
    """A copy of the record.

    Attributes:
        called: what it is, in words.
        headings, rows: by the batch's number in this copy; the rows of each by the event's number, more than one where
            the parts of the copy differ.
        latest: for each batch the number of its latest row among all rows, which tells what was worked on last.
    """

    called: str
    headings: dict[int, Heading] = field(default_factory=dict)
    rows: dict[int, dict[int, list[Row]]] = field(default_factory=dict)
    latest: dict[int, int] = field(default_factory=dict)

    def count(self) -> int:
        """How many rows there are."""
        return len(self.headings) + sum(len(rows) for rows in self.rows.values())

    def take(self, other: Copy) -> None:
        """Takes in what another reading of the same copy found besides."""
        for batch, heading in other.headings.items():
            if batch not in self.headings or (heading.sealed and not self.headings[batch].sealed):
                self.headings[batch] = heading
        for batch, rows in other.rows.items():
            mine = self.rows.setdefault(batch, {})
            for number, found in rows.items():
                mine.setdefault(number, []).extend(row for row in found if row not in mine.get(number, ()))
            self.latest[batch] = max(self.latest.get(batch, 0), other.latest[batch])


def fault_of(file: Path, say: Progress = quiet) -> str | None:
    """What is wrong with a record's file, which SQLite may tidy up meanwhile; None if it is sound.

    Raises:
        CoachError: it is another program's, or a newer coach's.
    """
    journal = journal_of(file)
    if journal is not None and journal.lost:
        return f"a damaged place in the journal, and {journal.lost} more entries after it"
    try:
        with closing(sqlite3.connect(file, isolation_level=None)) as connection:
            identity, ours = Identity.of(connection), _has_tables(connection)
            strange = identity.strange()
            if strange and ours and len(MIGRATIONS) < identity.version <= len(MIGRATIONS) + _COMING_VERSIONS:
                raise CoachError(strange)
            say("looking through the file", 0.0)
            # Unlike the quick check this one looks at the indexes too.
            finding = str(connection.execute("PRAGMA integrity_check(1)").fetchone()[0])
            if finding != "ok":
                return finding.splitlines()[-1]
            if not ours:
                if strange:
                    raise CoachError(strange)
                return "a database without batches"
            return strange or _fault_in_rows(connection, say)
    except UNREADABLE as error:
        return str(error)


def _fault_in_rows(connection: sqlite3.Connection, say: Progress) -> str | None:
    batches = [int(row[0]) for row in connection.execute("SELECT id, name FROM batches ORDER BY id")]
    strays = "SELECT batch FROM events WHERE batch NOT IN (SELECT id FROM batches) LIMIT 1"
    if stray := connection.execute(strays).fetchone():
        return f"the events of batch {stray[0]} belong to none"
    for at, batch in enumerate(batches):
        say("looking at the batches", at / len(batches))
        if fault := _gap_in(connection, batch):
            return fault
    if is_chained(connection) and (fault := fault_in(connection)):
        return fault
    if is_sealed(connection):
        for row in connection.execute(f"SELECT id, {SEALED_COLUMNS}, seal FROM batches"):  # noqa: S608 - ours
            if found := batch_row(row).fault:
                return f"batch {row[0]}: {found}"
    return None


def _gap_in(connection: sqlite3.Connection, batch: int) -> str | None:
    events: list[Event] = []
    rows = connection.execute("SELECT number, at, kind, data FROM events WHERE batch = ? ORDER BY number", (batch,))
    for number, at, kind, data in rows:
        if number != len(events) + 1:
            return f"batch {batch} has no event {len(events) + 1}"
        if not is_moment(at):
            return f"event {number} of batch {batch} has no time"
        if type(kind) is not str:
            return f"event {number} of batch {batch} has no kind"
        try:
            events.append(Event(number, at, kind, quick_json(data)))
        except (ValueError, TypeError):
            return f"event {number} of batch {batch} is not JSON"
    if not events:
        return f"batch {batch} has no events"
    sense = sense_of(events)
    return None if sense.good == len(events) else f"batch {batch}: {sense.why}"


def read_backup(file: Path, called: str, needless: Callable[[Heading], bool]) -> Copy | None:
    """What can be read of a backup, in whatever state it is; None if it is no record of this program's.

    The file isn't touched.

    Args:
        needless: whether a batch is had whole elsewhere, with all that is here; then it isn't read.
    """
    with suppress(*UNREADABLE), closing(for_reading(file)) as connection:
        if Identity.of(connection).strange() is None and _has_tables(connection):
            return _read(connection, file.stat().st_size, called, quiet, needless)
    return None


def read_damaged(file: Path, whole: Path, called: str, say: Progress = quiet, *, sound: bool = False) -> Copy:
    """What can be read of a damaged record, of its file and of its journal.

    Args:
        file: a copy with its journal beside it; both are changed. The file may be missing.
        whole: a sound record. The first page of one is like that of any other, so that a damaged beginning of `file`
            need not cost all that comes after.
        called: what it is, in words.
        sound: whether it is known to be, so that nothing need be looked for.
    """
    file.touch()
    journal = journal_of(file)  # before SQLite looks at it, since it tidies up
    by_force, mended = beside(file, ".forced"), beside(file, ".mended")
    lossy = journal is not None and journal.lost
    for copy in (by_force, mended):
        shutil.copyfile(file, copy)
        if journal is not None and lossy:
            forced(copy, journal)
        elif journal is not None:
            beside(copy, "-wal").write_bytes(journal.raw)
    carved = Copy(called) if sound else _carved(file, journal, called)
    found, alike = _read_doubted(file, called, whole, say)
    if lossy:
        forced_one, alike = _read_doubted(by_force, called, whole, say)
        found.take(forced_one)
    if not alike:
        _give_first_page(mended, whole)
        found.take(_read_doubted(mended, called, whole, say)[0])
    found.take(carved)
    return found


def _carved(file: Path, journal: Journal | None, called: str) -> Copy:
    """What the pages hold, each by itself."""
    found = Copy(called)
    most = (file.stat().st_size + len(journal.raw if journal else b"")) // _SMALLEST_ROW
    for place, values in rows_in(file, journal):
        match values:
            case [str(), str(), str(), int(), int(), int(), int(), int(), str(), str()]:
                heading = _heading(values, most, sealed=True)
                if heading is not None:
                    found.headings.setdefault(place, heading)
            case [int(batch), int(number), str(at), str(kind), str(data), str(stored)]:
                _add(found, place, batch, (number, at, kind, data, stored), most)
    return found


def _add(found: Copy, place: int, batch: int, row: Row, most: int) -> None:
    number, at, kind, data, stored = row
    if 0 < batch <= most and 0 < number <= most:
        rows = found.rows.setdefault(batch, {})
        rows.setdefault(number, []).append((number, at, sys.intern(kind), data, stored))
        found.latest[batch] = max(found.latest.get(batch, 0), place)


def _give_first_page(file: Path, whole: Path) -> None:
    with whole.open("rb") as source, closing(sqlite3.connect(whole)) as connection:
        size = int(connection.execute("PRAGMA page_size").fetchone()[0])
        page = bytearray(source.read(size))
    page[_PAGE_COUNT] = max(1, file.stat().st_size // size).to_bytes(4, "big")
    with file.open("r+b") as target:
        target.write(page)


def _read_doubted(file: Path, called: str, whole: Path, say: Progress) -> tuple[Copy, bool]:
    """What can be read, and whether the first page says of the tables what that of a sound record says."""
    size = file.stat().st_size + (beside(file, "-wal").stat().st_size if beside(file, "-wal").exists() else 0)
    with suppress(*UNREADABLE), closing(sqlite3.connect(_saved(file), isolation_level=None)) as connection:
        connection.execute("PRAGMA cell_size_check = ON")
        if _has_tables(connection):
            return _read(connection, size, called, say), _tables(connection) == _tables_of(whole)
    return Copy(called), False


def _saved(file: Path) -> Path:
    """The same file, which SQLite would empty of its journal if there were nothing in it."""
    if not file.stat().st_size:
        file.write_bytes(bytes(_FIRST_BYTES))
    return file


def _tables_of(whole: Path) -> dict[str, int]:
    with closing(sqlite3.connect(whole)) as connection:
        return _tables(connection)


def _tables(connection: sqlite3.Connection) -> dict[str, int]:
    query = "SELECT name, rootpage FROM sqlite_master WHERE name IN ('batches', 'events')"
    return dict(connection.execute(query).fetchall())


def is_chained(connection: sqlite3.Connection) -> bool:
    """Whether the schema has links from event to event."""
    return _has_column(connection, "events", "sum")


def is_sealed(connection: sqlite3.Connection) -> bool:
    """Whether the schema has seals of the batches' rows."""
    return _has_column(connection, "batches", "seal")


def _has_column(connection: sqlite3.Connection, table: str, column: str) -> bool:
    return any(row[1] == column for row in connection.execute(f"PRAGMA table_info({table})"))


def _has_tables(connection: sqlite3.Connection) -> bool:
    return {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")} >= TABLES


def _read(
    connection: sqlite3.Connection,
    size: int,
    called: str,
    say: Progress,
    needless: Callable[[Heading], bool] | None = None,
) -> Copy:
    found = Copy(called)
    most = size // _SMALLEST_ROW
    chained, sealed = is_chained(connection), is_sealed(connection)
    columns = ["name", "started", "events", "sum" if chained else "''", "''" if sealed else "'no'"]
    if sealed:
        columns = [*SEALED_COLUMNS.split(", "), "seal"]
    for batch, *row in _rows(connection, "batches", columns, most, quiet):
        heading = _heading(row, most, sealed=sealed)
        if heading is not None:
            found.headings[batch] = heading
    columns = ["batch", "number", "at", "kind", "data", "sum" if chained else "''"]
    skipped = [batch for batch, heading in found.headings.items() if needless is not None and needless(heading)]
    if skipped and len(skipped) == len(found.headings):
        return Copy(called)
    where = f" AND batch NOT IN ({', '.join(map(str, skipped))})" if skipped else ""
    for place, *row in _rows(connection, "events", columns, most, say, where):
        match row:
            case [int(batch), int(number), str(at), str(kind), str(data), str(stored)]:
                _add(found, place, batch, (number, at, kind, data, stored), most)
    for batch in skipped:
        del found.headings[batch]
    if not chained:
        _chain(found)
    return found


def _heading(row: list[Any], most: int, *, sealed: bool) -> Heading | None:
    if sealed:
        name, started, *_, count, last, stored = row
    else:
        name, started, count, last, stored = row
    if type(name) is not str or clean_text(name) is not None or not is_moment(started):
        return None
    if type(count) is not int or not 0 <= count <= most or type(last) is not str:
        count, last, stored = 0, "", None
    whole = sealed and seal(*row[:-1]) == stored
    return Heading(name, started, count, last, whole or not sealed, whole)


def _chain(found: Copy) -> None:
    """Links for a copy from before there were any: those that its events will get, from the first without a gap."""
    for batch, rows in found.rows.items():
        heading = found.headings.get(batch)
        if heading is None:
            continue
        now, number = beginning(heading.name, heading.started), 1
        while number in rows:
            _, at, kind, data, _ = rows[number][0]
            now = link(now, number, at, kind, data)
            rows[number] = [(number, at, kind, data, now)]
            number += 1


def _rows(
    connection: sqlite3.Connection, table: str, columns: list[str], most: int, say: Progress, where: str = ""
) -> Iterator[tuple[Any, ...]]:
    """The rows of a table with ids up to `most`, so many at once; where that fails, one by one, so that a bad page
    costs its own rows only."""
    what = f"SELECT id, {', '.join(columns)} FROM {table} WHERE id"  # noqa: S608 - ours
    end = _last_id(connection, table, most)
    for first in range(1, end + 1, _CHUNK):
        say("reading", first / end)
        seen: set[int] = set()
        try:
            for row in connection.execute(f"{what} BETWEEN ? AND ?{where}", (first, first + _CHUNK - 1)):
                seen.add(row[0])
                yield row
            continue
        except UNREADABLE:
            pass
        for number in range(first, first + _CHUNK):
            if number not in seen:
                with suppress(*UNREADABLE):
                    yield from connection.execute(f"{what} = ?{where}", (number,)).fetchall()


def _last_id(connection: sqlite3.Connection, table: str, most: int) -> int:
    """Up to where rows are looked for: the largest id where that can be told and be true, else `most`."""
    with suppress(*UNREADABLE):
        largest = connection.execute(f"SELECT max(id) FROM {table}").fetchone()[0]  # noqa: S608 - ours
        counted = connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608 - ours
        if largest is None or largest == counted:
            return int(largest or 0)
    return most
