"""The store when all is well: batches, events, tallies, times, two windows, backups and migrations."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from coach.ground.errors import CoachError
from coach.record.disk import backups, files, schema
from coach.record.disk.store import Store
from coach.record.rows import Event, Stale, Tally, now

TALLY = Tally(cuts=8, cuts_done=0, steps_left=12, finished=False)
OFFSET = timezone(timedelta(hours=-5))


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.time = datetime(2031, 3, 4, 15, 9, 26, 535_000, OFFSET)

    def __call__(self) -> datetime:
        return self.time

    def move(self, **step: float) -> None:
        self.time += timedelta(**step)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    with Store.open(tmp_path, clock=clock) as opened:
        yield opened


def rows(folder: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(folder / "coach.db")) as connection:
        return connection.execute(query).fetchall()


def test_the_folder_and_its_parents_are_made(tmp_path: Path) -> None:
    with Store.open(tmp_path / "not" / "yet" / "there"):
        assert (tmp_path / "not" / "yet" / "there" / "coach.db").is_file()


def test_a_new_record_has_no_batches(store: Store) -> None:
    assert store.batches() == []


def test_a_batch_starts_with_its_first_events(store: Store) -> None:
    row = store.start("drawers", [("started", {"boards": 12}), ("fence", {"at_mm": 84.1375})], TALLY)
    assert [event.kind for event in store.events(row.id)] == ["started", "fence"]


def test_a_started_batch_tells_its_tally(store: Store) -> None:
    row = store.start("drawers", [("started", {})], Tally(96, 3, -1, finished=True))
    assert (row.name, row.cuts, row.cuts_done, row.steps_left, row.finished, row.events) == (
        "drawers",
        96,
        3,
        -1,
        True,
        1,
    )


def test_a_batch_is_found_by_its_id_and_by_its_name(store: Store) -> None:
    row = store.start("drawers", [("started", {})], TALLY)
    assert store.batch(row.id) == store.batch_named("drawers") == row


def test_an_unknown_name_finds_nothing(store: Store) -> None:
    assert store.batch_named("drawers") is None


def test_an_unknown_id_is_refused(store: Store) -> None:
    with pytest.raises(CoachError, match="no batch 7"):
        store.batch(7)


def test_a_taken_name_is_refused_and_nothing_is_added(store: Store) -> None:
    store.start("drawers", [("started", {})], TALLY)
    with pytest.raises(CoachError, match="“drawers” is in the record already"):
        store.start("drawers", [("started", {})], TALLY)
    assert len(store.batches()) == 1


def test_numbers_run_from_one_in_each_batch(store: Store) -> None:
    first = store.start("drawers", [("started", {}), ("fence", {})], TALLY)
    second = store.start("chest", [("started", {})], TALLY)
    store.append(second.id, 1, [("cut", {}), ("cut", {})], TALLY)
    assert [event.number for event in store.events(first.id)] == [1, 2]
    assert [event.number for event in store.events(second.id)] == [1, 2, 3]


def test_append_returns_the_events_as_they_are_read_back(store: Store) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    data = {"board": 3, "mark_mm": 0.1 + 0.2, "label": "Schublade ⅜″", "marks": (5, 6.5), "turn": None}
    written = store.append(batch, 1, [("cut", data)], TALLY)
    assert written == list(store.events(batch, after=1))
    assert written[0].data == data | {"marks": [5, 6.5]}


def test_data_is_kept_as_compact_json(store: Store, tmp_path: Path) -> None:
    store.start("drawers", [("cut", {"end": "A", "marks": [1, 2.5], "label": "“tall”"})], TALLY)
    assert rows(tmp_path, "SELECT data FROM events") == [('{"end":"A","marks":[1,2.5],"label":"“tall”"}',)]


def test_a_number_that_json_lacks_is_refused_before_anything_is_written(store: Store) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    with pytest.raises(ValueError, match="JSON"):
        store.append(batch, 1, [("cut", {}), ("fence", {"at_mm": float("nan")})], TALLY)
    assert store.latest(batch) == 1


def test_the_tally_of_an_append_shows_in_the_list(store: Store) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    store.append(batch, 1, [("cut", {}), ("cut", {})], Tally(8, 2, 10, finished=False))
    row = store.batches()[0]
    assert (row.cuts_done, row.steps_left, row.events) == (2, 10, 3)


def test_latest_is_the_number_of_the_last_event(store: Store) -> None:
    batch = store.start("drawers", [("started", {}), ("fence", {})], TALLY).id
    assert store.latest(batch) == 2


def test_latest_of_a_batch_without_events_is_zero(store: Store) -> None:
    assert store.latest(store.start("drawers", [], TALLY).id) == 0


def test_append_to_an_unknown_batch_is_refused(store: Store) -> None:
    with pytest.raises(CoachError, match="no batch 9"):
        store.append(9, 0, [("cut", {})], TALLY)


def test_a_new_tally_alone_leaves_the_time_of_the_last_event(store: Store, clock: Clock) -> None:
    row = store.start("drawers", [("started", {})], TALLY)
    clock.move(hours=1)
    assert store.append(row.id, 1, [], Tally(8, 8, 0, finished=True)) == []
    assert (store.batch(row.id).last, store.batch(row.id).finished) == (row.last, True)


def test_events_can_be_read_from_a_number_on(store: Store) -> None:
    batch = store.start("drawers", [("one", {}), ("two", {}), ("three", {})], TALLY).id
    assert [event.kind for event in store.events(batch, after=1)] == ["two", "three"]


def test_many_events_come_in_order(store: Store) -> None:
    batch = store.start("drawers", [("cut", {"n": n}) for n in range(1, 2501)], TALLY).id
    assert [(event.number, event.data["n"]) for event in store.events(batch)] == [(n, n) for n in range(1, 2501)]


def test_a_caller_may_append_while_it_reads(store: Store) -> None:
    batch = store.start("drawers", [("cut", {})] * 1500, TALLY).id
    reading = store.events(batch)
    next(reading)
    store.append(batch, 1500, [("cut", {})], TALLY)
    assert 1 + sum(1 for _ in reading) == 1501


def test_a_reader_halfway_does_not_hold_up_another_window(store: Store, tmp_path: Path) -> None:
    batch = store.start("drawers", [("cut", {})] * 1500, TALLY).id
    reading = store.events(batch)
    next(reading)
    with Store.open(tmp_path) as other:
        other.append(batch, 1500, [("cut", {})], TALLY)
    store.append(batch, 1501, [("cut", {})], TALLY)
    assert store.latest(batch) == 1502


def test_events_are_there_after_reopening(tmp_path: Path, clock: Clock) -> None:
    with Store.open(tmp_path, clock=clock) as store:
        batch = store.start("drawers", [("started", {"boards": 2})], TALLY).id
    with Store.open(tmp_path, clock=clock) as store:
        assert list(store.events(batch)) == [Event(1, "2031-03-04T15:09:26.535-05:00", "started", {"boards": 2})]


def test_the_clock_gives_the_time_of_events_and_batches(store: Store, clock: Clock) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    clock.move(minutes=2)
    written = store.append(batch, 1, [("cut", {})], TALLY)
    row = store.batch(batch)
    assert row.started == "2031-03-04T15:09:26.535-05:00"
    assert row.last == written[0].at == "2031-03-04T15:11:26.535-05:00"


def test_a_time_without_an_offset_gets_the_local_one(tmp_path: Path) -> None:
    with Store.open(tmp_path, clock=lambda: datetime(2031, 3, 4, 15, 9)) as store:  # noqa: DTZ001 - what is tested
        row = store.start("drawers", [("started", {})], TALLY)
    assert datetime.fromisoformat(row.started).tzinfo is not None


def test_the_usual_clock_tells_the_offset() -> None:
    assert now().tzinfo is not None


def test_unfinished_batches_come_first_then_the_most_recent(store: Store, clock: Clock) -> None:
    done = Tally(8, 8, 0, finished=True)
    for name, tally in (("a", TALLY), ("b", done), ("c", TALLY), ("d", done)):
        store.start(name, [("started", {})], tally)
        clock.move(minutes=1)
    store.append(1, 1, [("cut", {})], TALLY)
    assert [row.name for row in store.batches()] == ["a", "c", "d", "b"]


def test_batches_are_ordered_by_the_moment_not_by_the_wall_clock(store: Store, clock: Clock) -> None:
    # The hour that is struck twice when summer time ends: the later moment has the earlier wall time.
    clock.time = datetime(2031, 10, 26, 2, 50, tzinfo=timezone(timedelta(hours=2)))
    store.start("before", [("started", {})], TALLY)
    clock.time = datetime(2031, 10, 26, 2, 10, tzinfo=timezone(timedelta(hours=1)))
    store.start("after", [("started", {})], TALLY)
    assert [row.name for row in store.batches()] == ["after", "before"]


def test_the_slower_of_two_windows_is_told_and_writes_nothing(store: Store, tmp_path: Path) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    with Store.open(tmp_path) as other:
        other.append(batch, 1, [("cut", {"window": "other"})], TALLY)
    with pytest.raises(Stale, match="latest event is 2, this window knows 1"):
        store.append(batch, 1, [("cut", {"window": "this"}), ("cut", {})], Tally(8, 8, 0, finished=True))
    assert [event.data for event in store.events(batch, after=1)] == [{"window": "other"}]
    assert not store.batch(batch).finished


def test_the_slower_window_can_write_once_it_has_caught_up(store: Store, tmp_path: Path) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    with Store.open(tmp_path) as other:
        other.append(batch, 1, [("cut", {})], TALLY)
    seen = list(store.events(batch))[-1].number
    assert store.append(batch, seen, [("cut", {})], TALLY)[0].number == 3


def test_two_windows_on_two_batches_do_not_disturb_each_other(store: Store, tmp_path: Path) -> None:
    mine = store.start("drawers", [("started", {})], TALLY).id
    with Store.open(tmp_path) as other:
        theirs = other.start("chest", [("started", {})], TALLY).id
        store.append(mine, 1, [("cut", {})], TALLY)
        other.append(theirs, 1, [("cut", {})], TALLY)
    assert (store.latest(mine), store.latest(theirs)) == (2, 2)


@pytest.mark.parametrize("change", ["UPDATE events SET kind = 'x'", "DELETE FROM events"])
def test_events_can_be_neither_changed_nor_deleted(store: Store, tmp_path: Path, change: str) -> None:
    store.start("drawers", [("started", {})], TALLY)
    with pytest.raises(sqlite3.IntegrityError, match="only ever added"):
        rows(tmp_path, change)


def test_commits_reach_the_disk_before_they_return(store: Store) -> None:
    # SQLite's documentation of PRAGMA synchronous (from memory): 2 is FULL, a sync of the log at each commit.
    pragmas = [store._connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous")]
    assert pragmas == ["wal", 2]


def test_lists_do_not_read_the_events(store: Store) -> None:
    store.start("drawers", [("started", {})], TALLY)
    statements: list[str] = []
    store._connection.set_trace_callback(statements.append)
    store.batches()
    assert [statement for statement in statements if "data" in statement] == []


def test_the_file_says_whose_it_is_and_which_schema_it_has(store: Store, tmp_path: Path) -> None:
    assert rows(tmp_path, "PRAGMA application_id") == [(schema.APPLICATION_ID,)]
    assert rows(tmp_path, "PRAGMA user_version") == [(len(schema.MIGRATIONS),)]


def test_an_empty_file_becomes_a_record(tmp_path: Path) -> None:
    (tmp_path / "coach.db").touch()
    with Store.open(tmp_path) as store:
        assert store.batches() == []


def test_closing_twice_does_nothing(tmp_path: Path) -> None:
    store = Store.open(tmp_path)
    store.close()
    store.close()


def test_atomic_rolls_back_when_the_commit_itself_fails() -> None:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("CREATE TABLE a (id INTEGER PRIMARY KEY)")
        connection.execute("CREATE TABLE b (a INTEGER REFERENCES a (id) DEFERRABLE INITIALLY DEFERRED)")
        with pytest.raises(sqlite3.IntegrityError), schema.atomic(connection):
            connection.execute("INSERT INTO b VALUES (1)")
        assert not connection.in_transaction
        assert connection.execute("SELECT count(*) FROM b").fetchone() == (0,)


def test_the_first_backup_of_a_day_is_made_and_holds_the_events(store: Store, tmp_path: Path) -> None:
    store.start("drawers", [("started", {})], TALLY)
    made = store.backup_of_the_day()
    assert made == tmp_path / "backups" / "coach-20310304-150926.db"
    (tmp_path / "restored").mkdir()
    made.rename(tmp_path / "restored" / "coach.db")
    with Store.open(tmp_path / "restored") as restored:
        assert [event.kind for event in restored.events(1)] == ["started"]


def test_a_backup_is_one_file(store: Store, tmp_path: Path) -> None:
    store.start("drawers", [("started", {})], TALLY)
    store.backup_of_the_day()
    assert [path.name for path in (tmp_path / "backups").iterdir()] == ["coach-20310304-150926.db"]


def test_a_day_gets_one_backup(store: Store, clock: Clock) -> None:
    store.start("drawers", [("started", {})], TALLY)
    store.backup_of_the_day()
    clock.move(hours=2)
    assert store.backup_of_the_day() is None


def test_the_latest_fourteen_backups_are_kept(store: Store, tmp_path: Path, clock: Clock) -> None:
    store.start("drawers", [("started", {})], TALLY)
    made = []
    for _ in range(17):
        made.append(store.backup_of_the_day())
        clock.move(days=1)
    assert sorted((tmp_path / "backups").iterdir()) == made[-14:]


def test_only_backups_are_ever_removed(store: Store, tmp_path: Path, clock: Clock) -> None:
    store.start("drawers", [("started", {})], TALLY)
    (tmp_path / "backups").mkdir()
    own = tmp_path / "backups" / "coach-20200101-my-own-copy.db"
    own.touch()
    for _ in range(16):
        store.backup_of_the_day()
        clock.move(days=1)
    assert own.exists()


def test_a_clock_set_back_does_not_cost_the_new_backup(store: Store, tmp_path: Path, clock: Clock) -> None:
    store.start("drawers", [("started", {})], TALLY)
    for _ in range(14):
        store.backup_of_the_day()
        clock.move(days=1)
    clock.move(days=-400)
    made = store.backup_of_the_day()
    assert made in list((tmp_path / "backups").iterdir())


def add_a_column(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE batches ADD COLUMN note TEXT")


def add_a_column_and_fail(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE batches ADD COLUMN colour TEXT")
    connection.execute("SELECT 1 FROM nowhere")


def test_an_older_record_is_backed_up_then_migrated(tmp_path: Path, clock: Clock) -> None:
    Store.open(tmp_path, clock=clock).close()
    file = tmp_path / "coach.db"
    before = len(schema.MIGRATIONS)
    schema.connect(file, clock, (*schema.MIGRATIONS, add_a_column)).close()
    assert rows(tmp_path, "PRAGMA user_version") == [(before + 1,)]
    with closing(sqlite3.connect(files.backups(file)[0])) as backup:
        assert backup.execute("PRAGMA user_version").fetchone() == (before,)


def test_a_new_record_needs_no_backup(store: Store, tmp_path: Path) -> None:
    assert not (tmp_path / "backups").exists()


def test_a_record_of_the_present_schema_is_not_backed_up_at_opening(tmp_path: Path) -> None:
    Store.open(tmp_path).close()
    Store.open(tmp_path).close()
    assert not (tmp_path / "backups").exists()


def test_a_migration_that_fails_leaves_the_version_before_it(tmp_path: Path, clock: Clock) -> None:
    Store.open(tmp_path, clock=clock).close()
    before = len(schema.MIGRATIONS)
    steps = (*schema.MIGRATIONS, add_a_column, add_a_column_and_fail)
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        schema.connect(tmp_path / "coach.db", clock, steps)
    assert rows(tmp_path, "PRAGMA user_version") == [(before + 1,)]
    columns = [row[1] for row in rows(tmp_path, "PRAGMA table_info(batches)")]
    assert ("note" in columns, "colour" in columns) == (True, False)


def test_backups_of_one_second_do_not_replace_each_other(store: Store, tmp_path: Path, clock: Clock) -> None:
    file = tmp_path / "coach.db"
    made = [backups.back_up(store._connection, file, clock()) for _ in range(3)]
    assert files.backups(file) == made


def test_a_migration_that_another_window_has_done_is_not_done_twice(tmp_path: Path, clock: Clock) -> None:
    file = tmp_path / "coach.db"
    Store.open(tmp_path, clock=clock).close()

    def meanwhile() -> datetime:
        # The clock is asked for the backup's name, between looking at the version and migrating.
        schema.connect(file, clock, (*schema.MIGRATIONS, add_a_column)).close()
        return datetime(2031, 3, 5, tzinfo=UTC)

    schema.connect(file, meanwhile, (*schema.MIGRATIONS, add_a_column)).close()
    assert rows(tmp_path, "PRAGMA user_version") == [(len(schema.MIGRATIONS) + 1,)]
