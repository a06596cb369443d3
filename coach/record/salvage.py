"""What can still be read of a damaged record, row by row, and how that goes together with a backup."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from coach.errors import CoachError
from coach.names import clean_text
from coach.record.chain import beginning, fault_in, link
from coach.record.files import beside, for_reading
from coach.record.json_text import strict_json
from coach.record.kinds import SETTINGS, START
from coach.record.moments import is_moment
from coach.record.rows import Event
from coach.record.schema import MIGRATIONS, Identity
from coach.record.shapes import misfit

TABLES = frozenset({"batches", "events"})
_SMALLEST_ROW = 40  # bytes: the time alone takes 29
_COMING_VERSIONS = 100  # a schema's version beyond these is a flipped bit
_PAGE_COUNT = slice(28, 32)  # where a database's first page says how many there are


@dataclass(frozen=True, slots=True)
class Heading:
    """What a row of the table of batches says: name, when started, and the tally as it last was."""

    name: str
    started: str
    cuts: int
    cuts_done: int
    events: int


@dataclass(frozen=True, slots=True)
class Found:
    """What a database file holds as far as it can be read: headings by batch, events by batch and number."""

    headings: Mapping[int, Heading]
    events: Mapping[int, Mapping[int, Event]]

    def count(self) -> int:
        """How many rows there are."""
        return len(self.headings) + sum(len(events) for events in self.events.values())


NOTHING = Found({}, {})


@dataclass(frozen=True, slots=True)
class Salvaged:
    """A batch put together from a backup and a damaged file.

    Attributes:
        heading: None if its row is readable in neither.
        events: the longest run from number 1 without a gap.
        left_out: how many more were readable, after a gap.
        known: how many it had, as far as is known.
        contested: how many read otherwise in the damaged file; the backup's are kept.
        parted: whether the damaged file tells another story than the backup; then nothing of it is taken.
    """

    heading: Heading | None
    events: tuple[Event, ...]
    left_out: int
    known: int
    contested: int = 0
    parted: bool = False

    @property
    def has_beginning(self) -> bool:
        """Whether the batch's layouts, shop and settings are there; without them it is lost."""
        return [event.kind for event in self.events[:2]] == [START, SETTINGS]


def fault_of(file: Path) -> str | None:
    """What is wrong with a record's file, which SQLite may tidy up meanwhile; None if it is sound.

    Raises:
        CoachError: it is another program's, or a newer coach's.
    """
    try:
        with closing(sqlite3.connect(file, isolation_level=None)) as connection:
            identity, ours = Identity.of(connection), _has_tables(connection)
            strange = identity.strange()
            if strange and ours and len(MIGRATIONS) < identity.version <= len(MIGRATIONS) + _COMING_VERSIONS:
                raise CoachError(strange)
            # Unlike the quick check this one looks at the indexes too.
            finding = str(connection.execute("PRAGMA integrity_check(1)").fetchone()[0])
            if finding != "ok":
                return finding.splitlines()[-1]
            if not ours:
                if strange:
                    raise CoachError(strange)
                return "a database without batches"
            return strange or _gap_in(connection) or (fault_in(connection) if _is_chained(connection) else None)
    except sqlite3.Error as error:
        return str(error)


def _gap_in(connection: sqlite3.Connection) -> str | None:
    latest = dict.fromkeys((int(batch) for batch, _ in connection.execute("SELECT id, name FROM batches")), 0)
    rows = connection.execute("SELECT batch, number, at, kind, data FROM events ORDER BY batch, number")
    for batch, number, at, kind, data in rows:
        if batch not in latest:
            return f"the events of batch {batch} belong to none"
        if number != latest[batch] + 1:
            return f"batch {batch} has no event {latest[batch] + 1}"
        if not is_moment(at):
            return f"event {number} of batch {batch} has no time"
        if _event(number, at, kind, data) is None:
            return f"event {number} of batch {batch} is not JSON"
        latest[batch] = number
    empty = [batch for batch, number in latest.items() if number == 0]
    return f"batch {empty[0]} has no events" if empty else None


def usable_backup(file: Path) -> bool:
    """Whether a backup opens, is a record of this program and passes SQLite's quick check."""
    with suppress(sqlite3.Error), closing(for_reading(file)) as connection:
        if Identity.of(connection).strange() is None and _has_tables(connection):
            sound = connection.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok"
            return bool(sound and not (_is_chained(connection) and fault_in(connection)))
    return False


def read_backup(file: Path) -> Found:
    """The rows of a sound backup, whatever their data."""
    with closing(for_reading(file)) as connection:
        return _read(connection, file.stat().st_size, doubted=False)


def read_damaged(file: Path, whole: Path) -> Found:
    """The rows of a damaged file that can be read and have the form that this program gives them.

    Args:
        file: a copy with its log beside it; it is changed.
        whole: a sound record. The first page of one is like that of any other, so that a damaged beginning of `file`
            need not cost all that comes after.
    """
    mended = beside(file, ".mended")
    shutil.copyfile(file, mended)
    if beside(file, "-wal").exists():
        shutil.copyfile(beside(file, "-wal"), beside(mended, "-wal"))
    _give_first_page(mended, whole)
    return max(_read_doubted(file), _read_doubted(mended), key=Found.count)


def _give_first_page(file: Path, whole: Path) -> None:
    with whole.open("rb") as source, closing(sqlite3.connect(whole)) as connection:
        size = int(connection.execute("PRAGMA page_size").fetchone()[0])
        page = bytearray(source.read(size))
    page[_PAGE_COUNT] = (file.stat().st_size // size).to_bytes(4, "big")
    with file.open("r+b") as target:
        target.write(page)


def _read_doubted(file: Path) -> Found:
    size = file.stat().st_size + (beside(file, "-wal").stat().st_size if beside(file, "-wal").exists() else 0)
    with suppress(sqlite3.Error), closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute("PRAGMA cell_size_check = ON")
        if _has_tables(connection):
            return _read(connection, size, doubted=True)
    return NOTHING


def _is_chained(connection: sqlite3.Connection) -> bool:
    return any(row[1] == "sum" for row in connection.execute("PRAGMA table_info(events)"))


def _has_tables(connection: sqlite3.Connection) -> bool:
    return {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")} >= TABLES


def _read(connection: sqlite3.Connection, size: int, *, doubted: bool) -> Found:
    events: dict[int, dict[int, Event]] = {}
    most = size // _SMALLEST_ROW
    headings: dict[int, Heading] = {}
    query = "SELECT id, name, started, cuts, cuts_done, events FROM batches WHERE id = ?"
    for row in _rows(connection, query, most):
        match row:
            case (int(batch), str(name), str(started), int(cuts), int(cuts_done), int(count)) if (
                clean_text(name) is None and is_moment(started) and 0 <= count <= most and 0 <= cuts_done <= cuts
            ):
                headings[batch] = Heading(name, started, cuts, cuts_done, count)
    links: dict[int, dict[int, tuple[str, str]]] = {}
    chained = _is_chained(connection)
    column = "sum" if chained else "''"
    # One by one, so that a bad page costs its own rows only; numbered from 1, and never taken out.
    query = f"SELECT batch, number, at, kind, data, {column} FROM events WHERE id = ?"  # noqa: S608 - ours
    for row in _rows(connection, query, most):
        match row:
            case (int(batch), int(number), str(at), str(kind), str(data), str(stored)) if (
                0 < batch <= most and 0 < number <= most and is_moment(at)
            ):
                event = _event(number, at, kind, data)
                if event is not None and not (doubted and misfit(event)):
                    events.setdefault(batch, {}).setdefault(number, event)
                links.setdefault(batch, {}).setdefault(number, (stored, data))
    if chained:
        events = {batch: _linked(found, links[batch], headings.get(batch)) for batch, found in events.items()}
    return Found(headings, events)


def _linked(
    events: Mapping[int, Event], links: Mapping[int, tuple[str, str]], heading: Heading | None
) -> dict[int, Event]:
    """The events that are what was written, by the link before each; the first one is believed where its batch's row
    can't be read."""
    kept = {}
    for number, event in events.items():
        stored, data = links[number]
        if number == 1:
            before = None if heading is None else beginning(heading.name, heading.started)
        else:
            before = links[number - 1][0] if number - 1 in links else ""
        if before is None or link(before, number, event.at, event.kind, data) == stored:
            kept[number] = event
    return kept


def _rows(connection: sqlite3.Connection, query: str, most: int) -> Iterator[tuple[object, ...]]:
    for number in range(1, most + 1):
        with suppress(sqlite3.Error):
            yield from connection.execute(query, (number,)).fetchall()


def _event(number: int, at: str, kind: str, data: object) -> Event | None:
    try:
        found = strict_json(data) if isinstance(data, str) else None
    except ValueError:
        return None
    return Event(number, at, kind, found) if isinstance(found, dict) else None


def merged(backup: Found, damaged: Found) -> list[Salvaged]:
    """The batches of both, each event once.

    A batch is known by its name and when it was started; where that can't be read, by its place and an event that is
    the same in both.
    """
    by_heading = {(heading.name, heading.started): batch for batch, heading in backup.headings.items()}
    partners: dict[int, int] = {}
    for batch in sorted(damaged.events.keys() | damaged.headings.keys()):
        heading = damaged.headings.get(batch)
        known = None if heading is None else by_heading.get((heading.name, heading.started))
        if known is None and _shares_an_event(backup, damaged, batch):
            known = batch
        if known is not None:
            partners.setdefault(known, batch)
    found = [_put_together(backup, batch, damaged, partners.get(batch)) for batch in _batches(backup)]
    alone = [batch for batch in _batches(damaged) if batch not in partners.values()]
    return found + [_put_together(NOTHING, None, damaged, batch) for batch in alone]


def _batches(found: Found) -> list[int]:
    return sorted(found.headings.keys() | found.events.keys())


def _shares_an_event(one: Found, other: Found, batch: int) -> bool:
    first, second = one.events.get(batch, {}), other.events.get(batch, {})
    return any(first[number] == second[number] for number in first.keys() & second.keys())


def _put_together(backup: Found, batch: int | None, damaged: Found, partner: int | None) -> Salvaged:
    base = backup.events.get(batch, {}) if batch is not None else {}
    more = damaged.events.get(partner, {}) if partner is not None else {}
    both = sorted(base.keys() & more.keys())
    contested = [number for number in both if base[number] != more[number]]
    # A flipped bit spoils one time; where both of the last two differ, the file went on from an older backup.
    parted = len(both) > 1 and all(base[number].at != more[number].at for number in both[-2:])
    events = base if parted else {**more, **base}
    run: list[Event] = []
    while (event := events.get(len(run) + 1)) is not None:
        run.append(event)
    headings = [
        found.headings[number]
        for found, number in ((backup, batch), (damaged, partner))
        if number is not None and number in found.headings
    ]
    readable = base.keys() | more.keys()
    known = max([0, *readable, *(heading.events for heading in headings)])
    return Salvaged(
        headings[0] if headings else None,
        tuple(run),
        len(readable) - len(run),
        known,
        len(contested),
        parted,
    )
