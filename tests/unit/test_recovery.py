"""A damaged record: the old file is kept, and a new one holds what the backup and the readable rows have."""

from __future__ import annotations

import random
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from support.damaged_records import PAGE, Batches, batches_in, record
from support.small_batches import MORNING, Clock

from coach.ground.errors import CoachError
from coach.plan.steps import StepKind
from coach.record.batch.session import Session
from coach.record.chain import beginning, link
from coach.record.disk.store import Store
from coach.record.rescue.recovery import Recovered, recover

RECORD = record()
BACKUP = "coach-20310304-120000.db"
RUBBISH = random.Random(4).randbytes(PAGE)  # noqa: S311 - it has to be the same again
KEPT = "coach-damaged-20310304-093000.db"

# A superuser's process may write whatever the modes say; without its capabilities it is like any other's.
WITHOUT_PRIVILEGES = """
import ctypes
header = (ctypes.c_uint32 * 2)(0x20080522, 0)
assert ctypes.CDLL(None, use_errno=True).capset(header, (ctypes.c_uint32 * 6)()) == 0
"""
FULL_DISK = """
import resource
resource.setrlimit(resource.RLIMIT_FSIZE, (ROOM, resource.RLIM_INFINITY))
"""
RECOVER = """
import sys
from pathlib import Path
from coach.ground.errors import CoachError
from coach.record.rescue.recovery import recover
from coach.record.disk.store import now
try:
    recover(Path(sys.argv[1]), clock=now)
except CoachError as error:
    print(error)
"""

linux_only = pytest.mark.skipif(sys.platform != "linux", reason="limits and capabilities as Linux has them")


def at_morning() -> datetime:
    return MORNING


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def recovered(folder: Path, file: bytes | None, *, backup: bool = True) -> Recovered:
    return recover(RECORD.lay_down(folder, file, backup=backup), clock=at_morning)


def assert_holds(found: Batches, kept: Batches) -> None:
    """Every event of `kept` is in `found`, and nothing that the record never had."""
    for name, events in kept.items():
        assert found[name][: len(events)] == events
    for have in found.values():
        assert have in [events[: len(have)] for events in RECORD.events.values()]


def run(script: str, folder: Path) -> str:
    done = subprocess.run([sys.executable, "-c", script, str(folder)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


# What is kept and what is made.


def test_the_damaged_file_is_kept_byte_for_byte_under_a_name_of_its_own(tmp_path: Path) -> None:
    damaged = RECORD.with_page(4, RUBBISH)
    found = recovered(tmp_path, damaged)
    assert found.kept == tmp_path / KEPT
    assert found.kept.read_bytes() == damaged


def test_its_log_is_kept_with_it(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path, RECORD.with_page(4, RUBBISH))
    for suffix in ("-wal", "-shm"):
        (tmp_path / f"coach.db{suffix}").write_bytes(RUBBISH)
    recover(tmp_path, clock=at_morning)
    assert [(tmp_path / f"{KEPT}{suffix}").read_bytes() for suffix in ("-wal", "-shm")] == [RUBBISH, RUBBISH]
    assert not (tmp_path / "coach.db-wal").exists()


def test_nothing_else_is_left_behind(tmp_path: Path) -> None:
    recovered(tmp_path, RECORD.with_page(1, RUBBISH))
    assert sorted(contents(tmp_path)) == sorted([f"backups/{BACKUP}", KEPT, "coach.db"])


def test_a_file_kept_before_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / KEPT).write_bytes(b"from before")
    (tmp_path / f"{KEPT.removesuffix('.db')}-2.db-wal").write_bytes(b"a log from before")
    found = recovered(tmp_path, RECORD.with_page(4, RUBBISH))
    assert found.kept == tmp_path / "coach-damaged-20310304-093000-3.db"
    assert (tmp_path / KEPT).read_bytes() == b"from before"


def test_with_the_clock_set_back_all_is_recovered_as_ever(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path, RECORD.with_page(1, RUBBISH))
    found = recover(tmp_path, clock=lambda: datetime(1970, 1, 1, 1, 2, 3))  # noqa: DTZ001 - a clock without a zone
    assert found.kept == tmp_path / "coach-damaged-19700101-010203.db"
    assert batches_in(tmp_path) == RECORD.events


def test_the_tallies_are_as_they_were(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path / "whole")
    recovered(tmp_path / "damaged", RECORD.with_page(1, RUBBISH))
    with Store.open(tmp_path / "whole") as whole, Store.open(tmp_path / "damaged") as mended:
        assert mended.batches() == whole.batches()


def test_a_recovered_batch_is_carried_on(tmp_path: Path) -> None:
    recovered(tmp_path, RUBBISH)
    with Store.open(tmp_path, clock=Clock()) as store:
        row = store.batch_named("drawers")
        assert row is not None
        session = Session(store, row)
        while (step := session.next()) is not None:
            session.complete(step)
        assert store.batch(row.id).finished


# Damage of every kind and at every place.


@pytest.mark.parametrize("page", range(1, RECORD.pages + 1))
def test_a_page_of_rubbish_costs_nothing_that_was_backed_up(tmp_path: Path, page: int) -> None:
    damaged = RECORD.with_page(page, RUBBISH)
    found = recovered(tmp_path, damaged)
    assert_holds(batches_in(tmp_path), RECORD.backed_up)
    assert (found.kept or tmp_path).read_bytes() == damaged


@pytest.mark.parametrize("page", range(1, RECORD.pages + 1))
@pytest.mark.parametrize("seed", range(6))
def test_flipped_bits_cost_nothing_that_was_backed_up(tmp_path: Path, page: int, seed: int) -> None:
    chance = random.Random(page * 100 + seed)  # noqa: S311 - it has to be the same again
    at = chance.choice([chance.randrange(12), chance.randrange(PAGE)])
    damaged = RECORD.with_page(page, bytes([RECORD.file[(page - 1) * PAGE + at] ^ (1 << chance.randrange(8))]), at)
    RECORD.lay_down(tmp_path, damaged)
    refused = ""
    try:
        recover(tmp_path, clock=at_morning)
    except CoachError as error:
        refused = str(error)
    if refused:
        # A bit in the schema's version makes the record a newer coach's; others are where nothing is kept.
        assert "is sound" in refused or "schema version" in refused
        assert (tmp_path / "coach.db").read_bytes() == damaged
        return
    found = batches_in(tmp_path)
    for name, events in RECORD.backed_up.items():
        assert found[name][: len(events)] == events


@pytest.mark.parametrize("length", [0, 1, 99, 100, 512, *range(PAGE - 1, len(RECORD.file), PAGE // 2 + 1)])
def test_a_file_cut_short_costs_nothing_that_was_backed_up(tmp_path: Path, length: int) -> None:
    recovered(tmp_path, RECORD.file[:length])
    assert_holds(batches_in(tmp_path), RECORD.backed_up)


@pytest.mark.parametrize("page", range(2, RECORD.pages + 1))
def test_without_a_backup_a_bad_page_costs_its_own_rows_and_what_comes_after_in_their_batch(
    tmp_path: Path, page: int
) -> None:
    found = recovered(tmp_path, RECORD.with_page(page, RUBBISH), backup=False)
    have = batches_in(tmp_path)
    assert_holds(have, {})
    assert found.events == sum(len(events) for events in have.values())


@pytest.mark.parametrize(
    "garbage", [RUBBISH[:16], RUBBISH[:100], RUBBISH], ids=["signature", "header", "the whole first page"]
)
def test_a_garbage_beginning_costs_nothing_even_without_a_backup(tmp_path: Path, garbage: bytes) -> None:
    recovered(tmp_path, RECORD.with_page(1, garbage), backup=False)
    assert batches_in(tmp_path) == RECORD.events


def test_a_file_that_is_no_database_gives_the_backup(tmp_path: Path) -> None:
    found = recovered(tmp_path, b"[[parts]]\nlabel = 'side'\n" * 100)
    assert batches_in(tmp_path) == RECORD.backed_up
    assert found.backups == (tmp_path / "backups" / BACKUP,)


def test_a_file_that_is_no_database_without_a_backup_gives_an_empty_record_and_says_so(tmp_path: Path) -> None:
    found = recovered(tmp_path, RUBBISH, backup=False)
    assert batches_in(tmp_path) == {}
    assert "Nothing could be read: the new record is empty." in found.lines


def test_a_missing_file_gives_the_backup(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path)
    (tmp_path / "coach.db").unlink()
    assert recover(tmp_path, clock=at_morning).kept is None
    assert batches_in(tmp_path) == RECORD.backed_up


def test_events_that_stand_only_in_the_log_are_recovered(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path / "live")
    (tmp_path / "killed" / "backups").mkdir(parents=True)
    with Store.open(tmp_path / "live", clock=Clock()) as store:
        row = store.batch_named("late")
        assert row is not None
        session = Session(store, row)
        for _ in range(3):
            step = session.next()
            assert step is not None
            session.complete(step)
        for name in ("coach.db", "coach.db-wal"):  # as a kill leaves them
            shutil.copyfile(tmp_path / "live" / name, tmp_path / "killed" / name)
    file = tmp_path / "killed" / "coach.db"
    file.write_bytes(RUBBISH[:100] + file.read_bytes()[100:])
    recover(tmp_path / "killed", clock=at_morning)
    assert batches_in(tmp_path / "killed")["late"] == tuple(session.events)


def test_an_event_that_is_not_json_is_damage_too(tmp_path: Path) -> None:
    at = RECORD.file.rindex(b'{"topic"')
    damaged = RECORD.file[:at] + b"?" + RECORD.file[at + 1 :]
    found = recovered(tmp_path, damaged)
    assert "is not JSON" in found.lines[0]
    assert_holds(batches_in(tmp_path), RECORD.backed_up)


# Backups.


def test_an_unusable_backup_gives_way_to_the_next_older(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path, RUBBISH)
    (tmp_path / "backups" / "coach-20310305-120000.db").write_bytes(RUBBISH)
    found = recover(tmp_path, clock=at_morning)
    assert found.backups == (tmp_path / "backups" / BACKUP,)
    assert "The backup coach-20310305-120000.db can't be used." in found.lines
    assert batches_in(tmp_path) == RECORD.backed_up


def test_another_programs_backup_is_not_used(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path, RUBBISH)
    with closing(sqlite3.connect(tmp_path / "backups" / "coach-20310305-120000.db")) as connection:
        connection.execute("CREATE TABLE recipes (id)")
    assert recover(tmp_path, clock=at_morning).backups == (tmp_path / "backups" / BACKUP,)


def test_backups_stay_as_they_are(tmp_path: Path) -> None:
    recovered(tmp_path, RUBBISH)
    assert contents(tmp_path / "backups") == {BACKUP: RECORD.backup}


# What is said.


def changed(statements: str, *, rechained: bool = False) -> bytes:
    """The record's file after `statements`, with a wrong count of free pages, so that it counts as damaged.

    Args:
        rechained: whether the checksums go with the changes, as where a coach wrote them.
    """
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        connection.deserialize(RECORD.file[:18] + b"\x01\x01" + RECORD.file[20:])  # without a log, for memory
        connection.executescript(f"DROP TRIGGER events_no_update; DROP TRIGGER events_no_delete; {statements}")
        if rechained:
            for batch, name, started in connection.execute("SELECT id, name, started FROM batches").fetchall():
                now = beginning(name, started)
                rows = connection.execute("SELECT id, number, at, kind, data FROM events WHERE batch = ?", (batch,))
                for row, *event in sorted(rows.fetchall(), key=lambda row: row[1]):
                    now = link(now, *event)
                    connection.execute("UPDATE events SET sum = ? WHERE id = ?", (now, row))
                connection.execute("UPDATE batches SET sum = ? WHERE id = ?", (now, batch))
        found = bytes(connection.serialize())
    return found[:36] + (9).to_bytes(4, "big") + found[40:]


def test_whole_batches_are_told_as_whole(tmp_path: Path) -> None:
    lines = recovered(tmp_path, RECORD.with_page(1, RUBBISH)).lines
    whole = len(RECORD.events["chest"])
    assert f"“chest”: 8 of 8 cuts done; all of its {whole} entries are there, from the old file." in lines
    assert not any("Look at the boards" in line for line in lines)


def test_events_after_a_gap_are_left_out_and_counted(tmp_path: Path) -> None:
    late = len(RECORD.events["late"])
    found = recovered(tmp_path, changed("DELETE FROM events WHERE batch = 3 AND number = 9"))
    assert found.left_out == late - 10  # what follows right after the gap can't be held against a link before it
    assert batches_in(tmp_path)["late"] == RECORD.events["late"][:8]
    said = (
        f"8 of {late} entries, from the old file; {late - 10} more could be read, but entry 9 before them can't; what"
    )
    assert any(said in line for line in found.lines)
    with Store.open(tmp_path) as store:
        row = store.batch_named("late")
        assert row is not None
        kept = store.leftovers(row.id)
    assert tuple(one.event for one in kept) == RECORD.events["late"][10:]
    assert {one.why for one in kept} == {"after a gap"}
    assert found.lines[-1].startswith("Look at the boards before you cut")


def test_a_gap_that_the_backup_fills_costs_nothing(tmp_path: Path) -> None:
    recovered(tmp_path, changed("DELETE FROM events WHERE batch = 2 AND number IN (1, 9)"))
    assert batches_in(tmp_path) == RECORD.events


@pytest.mark.parametrize(
    "statement",
    ["DELETE FROM events WHERE batch = 3 AND number = 1", "DELETE FROM events WHERE batch = 3 AND number = 2"],
)
def test_a_batch_without_a_beginning_in_either_is_lost_and_told(tmp_path: Path, statement: str) -> None:
    found = recovered(tmp_path, changed(statement))
    assert found.lost == ("“late”",)
    assert "“late” is lost: its layouts and settings can't be read." in found.lines
    assert sorted(batches_in(tmp_path)) == ["chest", "drawers"]


def test_a_batch_whose_heading_is_spoiled_is_known_by_its_events(tmp_path: Path) -> None:
    recovered(tmp_path, changed("UPDATE batches SET name = 'drawexs' WHERE id = 2"))
    assert batches_in(tmp_path) == RECORD.events


def test_a_batch_without_a_heading_is_named_by_its_first_event(tmp_path: Path) -> None:
    recovered(tmp_path, changed("PRAGMA foreign_keys = OFF; DELETE FROM batches WHERE id = 3"))
    assert batches_in(tmp_path)["late"] == RECORD.events["late"]


def test_a_batch_that_nothing_names_is_named_after_its_layouts_and_that_is_said(tmp_path: Path) -> None:
    nameless = """UPDATE events SET data = replace(data, ',"name":"late"', '') WHERE batch = 3 AND number = 1;"""
    lost = "PRAGMA foreign_keys = OFF; DELETE FROM batches WHERE id = 3"
    found = recovered(tmp_path, changed("; ".join((nameless, lost))))
    assert batches_in(tmp_path)["test layout"][1:] == RECORD.events["late"][1:]
    assert "nothing says that its layouts and shop are as they were written" in "".join(found.lines)


def test_where_the_two_differ_the_backup_is_believed(tmp_path: Path) -> None:
    spoiled = """UPDATE events SET data = replace(data, '"tail":1', '"tail":2') WHERE batch = 1 AND kind = 'cut'"""
    found = recovered(tmp_path, changed(spoiled, rechained=True))
    assert batches_in(tmp_path)["chest"] == RECORD.events["chest"]
    assert any("tell of another course of the work" in line for line in found.lines)


@pytest.mark.parametrize("shorter", [False, True])
def test_a_file_that_went_on_from_an_older_backup_is_not_mixed_with_the_newer(tmp_path: Path, shorter: bool) -> None:
    backed_up, whole = RECORD.backed_up["drawers"], RECORD.events["drawers"]
    other = "UPDATE events SET at = replace(at, '2031', '2032') WHERE batch = 2 AND number > 10"
    if shorter:
        other += f"; DELETE FROM events WHERE batch = 2 AND number >= {len(backed_up)}"  # noqa: S608 - a number
    found = recovered(tmp_path, changed(other, rechained=True))
    kept = batches_in(tmp_path)["drawers"]
    if shorter:
        assert kept == backed_up
        left = len(backed_up) - 11
    else:
        assert kept == (*whole[:10], *(replace(event, at=event.at.replace("2031", "2032")) for event in whole[10:]))
        left = len(backed_up) - 10
    assert f"{left} more could be read, but tell of another course of the work" in "".join(found.lines)
    with Store.open(tmp_path) as store:
        row = store.batch_named("drawers")
        assert row is not None
        assert len(store.leftovers(row.id)) == left


def test_a_batch_goes_on_from_the_last_event_that_makes_sense(tmp_path: Path) -> None:
    strange = """UPDATE events SET data = replace(data, '"tail":', '"tail":9') WHERE batch = 3 AND kind = 'cut'"""
    found = recovered(tmp_path, changed(strange, rechained=True))
    events = RECORD.events["late"]
    first = next(event.number for event in events if event.kind == StepKind.CUT)
    assert batches_in(tmp_path)["late"] == events[: first - 1]
    said = f"it goes on from entry {first - 1}, since event {first} (cut): the events speak of a side"
    assert said in "".join(found.lines)
    with Store.open(tmp_path, clock=Clock()) as store:
        row = store.batch_named("late")
        assert row is not None
        assert [one.event.number for one in store.leftovers(row.id)] == list(range(first, len(events) + 1))
        session = Session(store, row)
        while (step := session.next()) is not None:
            session.complete(step)
        assert store.batch(row.id).finished


def test_a_batch_of_a_newer_coach_is_kept_with_its_tally_unknown(tmp_path: Path) -> None:
    strange = "UPDATE events SET kind = 'steam-bend' WHERE batch = 3 AND number = 10"
    recovered(tmp_path, changed(strange, rechained=True))
    with Store.open(tmp_path) as store:
        row = store.batch_named("late")
        assert row is not None
        assert (row.events, row.steps_left, row.finished) == (len(RECORD.events["late"]), -1, False)


# What is refused.


def test_a_sound_record_is_refused_and_nothing_changes(tmp_path: Path) -> None:
    before = contents(RECORD.lay_down(tmp_path))
    with pytest.raises(CoachError, match=r"coach\.db: the record is sound"):
        recover(tmp_path, clock=at_morning)
    assert contents(tmp_path) == before


def test_a_sound_record_with_a_log_is_refused_and_nothing_changes(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path / "live")
    (tmp_path / "killed").mkdir()
    with Store.open(tmp_path / "live", clock=Clock()) as store:
        row = store.batch_named("late")
        assert row is not None
        Session(store, row).undo()
        for name in ("coach.db", "coach.db-wal"):
            shutil.copyfile(tmp_path / "live" / name, tmp_path / "killed" / name)
    before = contents(tmp_path / "killed")
    with pytest.raises(CoachError, match="the record is sound"):
        recover(tmp_path / "killed", clock=at_morning)
    assert contents(tmp_path / "killed") == before


def test_a_folder_without_a_record_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match=r"there is no record here and no backup of one; name its folder with --data"):
        recover(tmp_path / "nowhere", clock=at_morning)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("statement", ["PRAGMA user_version = 4", "PRAGMA user_version = 99"])
def test_a_newer_record_is_refused_and_nothing_changes(tmp_path: Path, statement: str) -> None:
    RECORD.lay_down(tmp_path)
    with closing(sqlite3.connect(tmp_path / "coach.db")) as connection:
        connection.execute(statement)
    before = contents(tmp_path)
    with pytest.raises(CoachError, match="Use the newer coach that wrote it"):
        recover(tmp_path, clock=at_morning)
    assert contents(tmp_path) == before


def test_another_programs_database_is_refused_and_nothing_changes(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "coach.db")) as connection:
        connection.execute("CREATE TABLE recipes (id)")
    before = contents(tmp_path)
    with pytest.raises(CoachError, match="this is another program's database"):
        recover(tmp_path, clock=at_morning)
    assert contents(tmp_path) == before


def test_a_record_that_another_window_has_open_is_refused(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path)
    with Store.open(tmp_path) as store:
        store.batches()
        # From another process, as locks are between processes.
        said = run(RECOVER, tmp_path)
    assert "another window has the record open; nothing was changed. Close it and try again" in said
    assert sorted(contents(tmp_path)) == sorted([f"backups/{BACKUP}", "coach.db"])


@linux_only
def test_a_read_only_folder_is_refused_and_nothing_changes(tmp_path: Path) -> None:
    folder = RECORD.lay_down(tmp_path / "record", RUBBISH)
    before = contents(folder)
    folder.chmod(0o555)
    said = run(WITHOUT_PRIVILEGES + RECOVER, folder)
    assert "the folder is read-only" in said
    assert contents(folder) == before
    folder.chmod(0o755)


@linux_only
@pytest.mark.parametrize("size", [1000, 10_000, 40_000])
def test_a_full_disk_is_told_and_nothing_changes(tmp_path: Path, size: int) -> None:
    folder = RECORD.lay_down(tmp_path / "record", RECORD.with_page(1, RUBBISH))
    before = contents(folder)
    said = run(FULL_DISK.replace("ROOM", str(size)) + RECOVER, folder)
    assert "full" in said
    assert "Make room" in said
    assert contents(folder) == before


def test_an_interrupted_recovery_is_gone_on_with(tmp_path: Path) -> None:
    RECORD.lay_down(tmp_path, RUBBISH)
    (tmp_path / ".coach-recover-x").mkdir()
    kept = tmp_path / "coach-damaged-20310303-080000.db"
    kept.hardlink_to(tmp_path / "coach.db")
    kept.with_name(f"{kept.name}-wal").write_bytes(b"the log went first")
    assert recover(tmp_path, clock=at_morning).kept == kept
    assert kept.read_bytes() == RUBBISH
    assert not (tmp_path / ".coach-recover-x").exists()


def test_where_files_have_no_second_names_the_old_one_is_renamed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", refused)
    found = recovered(tmp_path, RUBBISH)
    assert found.kept is not None
    assert found.kept.read_bytes() == RUBBISH
    assert batches_in(tmp_path) == RECORD.backed_up
