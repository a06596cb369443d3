"""The store when something is wrong: locked, full, read-only, damaged or foreign files, and kills."""

from __future__ import annotations

import errno
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from coach.ground.errors import CoachError
from coach.record.disk import refusals, schema
from coach.record.disk.store import Store
from coach.record.rows import Tally

TALLY = Tally(cuts=8, cuts_done=0, steps_left=12, finished=False)

PREPARED = """
import sys
from pathlib import Path
from coach.ground.errors import CoachError
from coach.record.disk.store import Store, Tally
folder = Path(sys.argv[1])
tally = Tally(8, 0, 12, False)
"""

# A superuser's process may write whatever the modes say; without its capabilities it is like any other's.
WITHOUT_PRIVILEGES = """
import ctypes
header = (ctypes.c_uint32 * 2)(0x20080522, 0)
assert ctypes.CDLL(None, use_errno=True).capset(header, (ctypes.c_uint32 * 6)()) == 0
"""

linux_only = pytest.mark.skipif(sys.platform != "linux", reason="limits and capabilities as Linux has them")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path) as opened:
        yield opened


def run(script: str, folder: Path) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-c", PREPARED + script, str(folder)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def filled(folder: Path, events: int = 400) -> Path:
    """A closed record with one batch; its file."""
    with Store.open(folder) as store:
        store.start("drawers", [("cut", {"n": n, "pad": "x" * 100}) for n in range(events)], TALLY)
    return folder / "coach.db"


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def overwrite(file: Path, start: int, end: int) -> None:
    data = bytearray(file.read_bytes())
    data[start:end] = b"\xa5" * (end - start)
    file.write_bytes(data)


@pytest.fixture
def held(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """Another program's connection to the record."""
    with closing(sqlite3.connect(tmp_path / "coach.db", isolation_level=None)) as connection:
        yield connection


def test_a_held_record_is_told_with_what_to_do(store: Store, held: sqlite3.Connection) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    held.execute("BEGIN IMMEDIATE")
    with pytest.raises(CoachError, match="another program holds the record; nothing was written, try again"):
        store.append(batch, 1, [("cut", {})], TALLY)


def test_a_held_record_keeps_the_person_waiting_for_less_than_a_second(store: Store, held: sqlite3.Connection) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    held.execute("BEGIN IMMEDIATE")
    begun = time.monotonic()
    with pytest.raises(CoachError):
        store.append(batch, 1, [("cut", {})], TALLY)
    assert time.monotonic() - begun < 1


def test_the_key_works_again_once_the_record_is_free(store: Store, held: sqlite3.Connection) -> None:
    batch = store.start("drawers", [("started", {})], TALLY).id
    held.execute("BEGIN IMMEDIATE")
    with pytest.raises(CoachError):
        store.append(batch, 1, [("cut", {})], TALLY)
    held.execute("ROLLBACK")
    assert store.append(batch, 1, [("cut", {})], TALLY)[0].number == 2


def test_a_held_record_can_still_be_opened_and_read(tmp_path: Path, held: sqlite3.Connection) -> None:
    filled(tmp_path, 3)
    held.execute("BEGIN IMMEDIATE")
    with Store.open(tmp_path) as store:
        assert store.batches()[0].events == 3


@linux_only
def test_what_was_acknowledged_before_a_kill_is_there(tmp_path: Path) -> None:
    script = """
import signal
store = Store.open(folder)
batch = store.start("drawers", [("started", {})], tally).id
number = 1
for _ in range(5):
    number = store.append(batch, number, [("cut", {"n": number})], tally)[-1].number
print(number, flush=True)
signal.pause()
"""
    with subprocess.Popen(
        [sys.executable, "-c", PREPARED + script, str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        acknowledged = int(process.stdout.readline())
        process.send_signal(signal.SIGKILL)
    with Store.open(tmp_path) as store:
        assert acknowledged == store.latest(1) == store.batch(1).events == 6


@linux_only
def test_a_kill_at_any_moment_costs_no_acknowledged_event(tmp_path: Path) -> None:
    script = """
store = Store.open(folder)
batch = store.start("drawers", [("started", {})], tally).id
number = 1
while True:
    number = store.append(batch, number, [("cut", {"n": number})], tally)[-1].number
    print(number, flush=True)
"""
    with subprocess.Popen(
        [sys.executable, "-c", PREPARED + script, str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        acknowledged = [int(process.stdout.readline()) for _ in range(200)]
        process.send_signal(signal.SIGKILL)
        acknowledged += [int(line) for line in process.stdout.read().splitlines()]
    with Store.open(tmp_path) as store:
        assert store.latest(1) - acknowledged[-1] in (0, 1)
        assert [event.number for event in store.events(1)] == list(range(1, store.latest(1) + 1))


FULL_DISK = """
import resource
def room(size):
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
"""


@linux_only
def test_a_full_disk_is_told_and_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    script = """
store = Store.open(folder)
number = store.start("drawers", [("started", {})], tally).events
room((folder / "coach.db-wal").stat().st_size + 100_000)
try:
    while True:
        number = store.append(1, number, [("cut", {"n": number})], tally)[-1].number
except CoachError as error:
    print(number, store.latest(1), store.batch(1).events)
    print(error)
"""
    numbers, message = run(FULL_DISK + script, tmp_path)
    acknowledged, latest, counted = (int(number) for number in numbers.split())
    assert acknowledged == latest == counted > 5
    assert str(tmp_path) in message
    assert "full" in message
    assert "--data DIR or COACH_DATA" in message
    with Store.open(tmp_path) as store:
        assert store.latest(1) == acknowledged


@linux_only
def test_the_key_works_again_once_there_is_room(tmp_path: Path) -> None:
    script = """
store = Store.open(folder)
store.start("drawers", [("started", {})], tally)
room(1000)
try:
    store.append(1, 1, [("cut", {})], tally)
except CoachError:
    room(resource.RLIM_INFINITY)
    print(store.append(1, 1, [("cut", {})], tally)[0].number)
"""
    assert run(FULL_DISK + script, tmp_path) == ["2"]


@linux_only
@pytest.mark.parametrize("size", [0, 3000, 4096, 12_000, 20_000])
def test_a_disk_that_fills_while_a_record_is_made_leaves_nothing_in_the_way(tmp_path: Path, size: int) -> None:
    script = f"""
room({size})
try:
    Store.open(folder).close()
except CoachError as error:
    print("COACH_DATA" in str(error))
"""
    assert run(FULL_DISK + script, tmp_path) == ["True"]
    with Store.open(tmp_path) as store:
        assert store.batches() == []


@linux_only
def test_a_backup_that_finds_no_room_leaves_no_half_of_it(tmp_path: Path) -> None:
    filled(tmp_path)
    script = """
store = Store.open(folder)
room(20_000)
try:
    store.backup_of_the_day()
except CoachError as error:
    print("nothing was written" in str(error), list((folder / "backups").iterdir()))
"""
    assert run(FULL_DISK + script, tmp_path) == ["True []"]


def test_a_folder_below_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(CoachError, match=r"file/record: the record cannot be kept here: .*--data DIR or COACH_DATA"):
        Store.open(tmp_path / "file" / "record")


def test_a_file_in_the_folders_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(CoachError, match="it is a file, not a folder"):
        Store.open(tmp_path / "file")


def test_a_folder_in_the_files_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "coach.db").mkdir()
    with pytest.raises(CoachError, match=r"coach\.db is a folder, not a file"):
        Store.open(tmp_path)


TRY_TO_OPEN = """
try:
    Store.open(folder).close()
except CoachError as error:
    print(error)
"""


@linux_only
def test_a_read_only_folder_is_refused(tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    (message,) = run(WITHOUT_PRIVILEGES + TRY_TO_OPEN, tmp_path)
    assert message.startswith(f"{tmp_path}: the record cannot be kept here: the folder is read-only")
    assert "--data DIR or COACH_DATA" in message


@linux_only
def test_a_read_only_folder_with_a_record_is_refused_untouched(tmp_path: Path) -> None:
    filled(tmp_path)
    before = contents(tmp_path)
    tmp_path.chmod(0o555)
    (message,) = run(WITHOUT_PRIVILEGES + TRY_TO_OPEN, tmp_path)
    assert "the folder is read-only" in message
    assert contents(tmp_path) == before


@linux_only
def test_a_read_only_file_is_refused_at_opening(tmp_path: Path) -> None:
    filled(tmp_path).chmod(0o444)
    before = contents(tmp_path)
    (message,) = run(WITHOUT_PRIVILEGES + TRY_TO_OPEN, tmp_path)
    assert "coach.db is read-only" in message
    assert contents(tmp_path) == before


@linux_only
def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    (message,) = run(WITHOUT_PRIVILEGES + TRY_TO_OPEN, tmp_path / "new")
    assert "Permission denied" in message


@linux_only
def test_a_folder_that_cannot_be_entered_is_refused(tmp_path: Path) -> None:
    filled(tmp_path / "closed")
    (tmp_path / "closed").chmod(0o000)
    (message,) = run(WITHOUT_PRIVILEGES + TRY_TO_OPEN, tmp_path / "closed")
    (tmp_path / "closed").chmod(0o755)
    assert "the record cannot be kept here" in message


def test_a_backup_folder_that_cannot_be_made_is_told(store: Store, tmp_path: Path) -> None:
    store.start("drawers", [("started", {})], TALLY)
    (tmp_path / "backups").touch()
    with pytest.raises(CoachError, match=r"File exists.*backups"):
        store.backup_of_the_day()


def test_a_newer_record_is_refused_untouched(tmp_path: Path) -> None:
    file = filled(tmp_path, 3)
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA user_version = 99")
    before = contents(tmp_path)
    with pytest.raises(CoachError) as caught:
        Store.open(tmp_path)
    assert str(file) in str(caught.value)
    assert f"version 99, this program knows versions up to {len(schema.MIGRATIONS)}" in str(caught.value)
    assert contents(tmp_path) == before


def test_a_newer_record_that_was_killed_is_refused_untouched(tmp_path: Path) -> None:
    file = filled(tmp_path / "live", 3)
    (tmp_path / "killed").mkdir()
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA user_version = 99")
        # The copy is what a kill at this moment leaves: the new version stands in the log only.
        for name in ("coach.db", "coach.db-wal"):
            (tmp_path / "killed" / name).write_bytes((tmp_path / "live" / name).read_bytes())
    before = contents(tmp_path / "killed")
    with pytest.raises(CoachError, match="version 99"):
        Store.open(tmp_path / "killed")
    assert before.items() <= contents(tmp_path / "killed").items()


def test_another_programs_database_is_refused_untouched(tmp_path: Path) -> None:
    file = tmp_path / "coach.db"
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("CREATE TABLE recipes (id)")
        connection.execute("PRAGMA application_id = 0x01020304")
    before = contents(tmp_path)
    with pytest.raises(CoachError) as caught:
        Store.open(tmp_path)
    assert str(file) in str(caught.value)
    assert "application id is 0x01020304, a record's is 0x436f6368" in str(caught.value)
    assert contents(tmp_path) == before


def test_a_database_without_an_application_id_is_refused_untouched(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "coach.db")) as connection:
        connection.execute("CREATE TABLE recipes (id)")
    before = contents(tmp_path)
    with pytest.raises(CoachError, match="another program's database"):
        Store.open(tmp_path)
    assert contents(tmp_path) == before


def test_a_file_that_is_no_database_is_refused_untouched(tmp_path: Path) -> None:
    (tmp_path / "coach.db").write_text("[[parts]]\nlabel = 'side'\n" * 100, encoding="utf-8")
    before = contents(tmp_path)
    with pytest.raises(CoachError, match=r"coach\.db: .*'file is not a database', expected .* SQLite database"):
        Store.open(tmp_path)
    assert contents(tmp_path) == before


def test_a_damaged_record_is_told_with_its_newest_backup(tmp_path: Path) -> None:
    file = filled(tmp_path)
    with Store.open(tmp_path) as store:
        backup = store.backup_of_the_day()
    overwrite(file, 0, 100)
    with pytest.raises(CoachError) as caught:
        Store.open(tmp_path)
    assert f"{file}: the file is damaged" in str(caught.value)
    assert f"the newest backup, {backup}" in str(caught.value)
    assert str(caught.value).endswith(f"coach recover --data {tmp_path}")


def test_a_damaged_record_without_a_backup_is_told_to_be_recovered_too(tmp_path: Path) -> None:
    overwrite(filled(tmp_path), 0, 100)
    with pytest.raises(CoachError, match=r"Make a new record of what can still be read .*:  coach recover --data"):
        Store.open(tmp_path)


def test_an_empty_file_beside_backups_is_a_missing_record_and_not_a_new_one(tmp_path: Path) -> None:
    file = filled(tmp_path)
    with Store.open(tmp_path) as store:
        store.backup_of_the_day()
    file.write_bytes(b"")
    with pytest.raises(CoachError, match="the record is empty, but 1 backup"):
        Store.open(tmp_path)


def test_damage_inside_is_told_when_it_is_met_and_nothing_is_touched(tmp_path: Path) -> None:
    file = filled(tmp_path)
    overwrite(file, 4 * 4096, file.stat().st_size)
    before = contents(tmp_path)
    with Store.open(tmp_path) as store, pytest.raises(CoachError, match="damaged"):
        list(store.events(1))
    assert contents(tmp_path) == before


def test_a_torn_file_is_told_when_it_is_met(tmp_path: Path) -> None:
    file = filled(tmp_path)
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    with pytest.raises(CoachError, match="damaged"), Store.open(tmp_path) as store:
        list(store.events(1))


def test_a_torn_log_keeps_the_events_before_the_tear(tmp_path: Path) -> None:
    with Store.open(tmp_path / "live") as store:
        batch = store.start("drawers", [("started", {})], TALLY).id
        store._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()  # the log is written from its beginning
        store.append(batch, 1, [("cut", {})], TALLY)
        whole = (tmp_path / "live" / "coach.db-wal").stat().st_size
        store.append(batch, 2, [("cut", {})], TALLY)
        (tmp_path / "torn").mkdir()
        for name in ("coach.db", "coach.db-wal"):
            (tmp_path / "torn" / name).write_bytes((tmp_path / "live" / name).read_bytes())
    log = tmp_path / "torn" / "coach.db-wal"
    log.write_bytes(log.read_bytes()[: whole + 1000])
    with Store.open(tmp_path / "torn") as store:
        assert [event.number for event in store.events(batch)] == [1, 2]


def test_a_damaged_record_does_not_push_out_good_backups(tmp_path: Path) -> None:
    file = filled(tmp_path)
    overwrite(file, 4 * 4096, file.stat().st_size)
    with Store.open(tmp_path) as store, pytest.raises(CoachError, match="damaged"):
        store.backup_of_the_day()
    assert list((tmp_path / "backups").iterdir()) == []


@pytest.mark.parametrize("text", ["'{\"n\":'", "CAST(x'ff7b7d' AS TEXT)"])
def test_an_event_that_cannot_be_read_is_told(store: Store, held: sqlite3.Connection, text: str) -> None:
    store.start("drawers", [("started", {})], TALLY)
    held.execute(f"INSERT INTO events (batch, number, at, kind, data) VALUES (1, 2, '', 'cut', {text})")  # noqa: S608 - the test's own
    with pytest.raises(CoachError, match="damaged"):
        list(store.events(1))


def test_a_name_that_is_not_text_is_refused(store: Store) -> None:
    with pytest.raises(CoachError, match=r"'\\udcff' cannot be kept"):
        store.batch_named("\udcff")


def test_a_closed_store_says_that_it_cannot_be_used(tmp_path: Path) -> None:
    store = Store.open(tmp_path)
    store.close()
    with pytest.raises(CoachError, match=r"could not be used: .*closed"):
        store.batches()


def test_a_store_belongs_to_the_thread_that_opened_it(store: Store) -> None:
    told: list[CoachError] = []

    def elsewhere() -> None:
        try:
            store.batches()
        except CoachError as error:
            told.append(error)

    thread = threading.Thread(target=elsewhere)
    thread.start()
    thread.join()
    assert "thread" in str(told[0])


def test_an_unforeseen_refusal_names_the_file(store: Store, held: sqlite3.Connection, tmp_path: Path) -> None:
    held.execute("DROP TABLE batches")
    with pytest.raises(CoachError, match=rf"{tmp_path}/coach\.db: the record could not be used: no such table"):
        store.batches()


def test_an_input_error_of_the_file_system_is_told_with_its_path(tmp_path: Path) -> None:
    file = tmp_path / "coach.db"
    with pytest.raises(CoachError, match="Stale file handle: /mnt/shop"), refusals.explained(file):
        raise OSError(errno.ESTALE, "Stale file handle", "/mnt/shop")
