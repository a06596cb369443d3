"""A journal with a damaged place: SQLite would leave out all that comes after it without a word."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from support.damaged_records import batches_in
from support.small_batches import JOB, SETTINGS, Ticking, go

from coach.ground.errors import CoachError
from coach.record.batch.session import start
from coach.record.disk.journal import journal_of, read_journal
from coach.record.disk.store import Store
from coach.record.rescue.recovery import recover
from coach.record.rows import Event

HEADER, FRAME, PAGE = 32, 24, 4096


def killed(folder: Path) -> tuple[Path, tuple[Event, ...]]:
    """A record with a long journal, as a kill leaves it, and its events."""
    with Store.open(folder / "live", clock=Ticking()) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        go(session, 20)
        (folder / "killed").mkdir()
        for name in ("coach.db", "coach.db-wal"):
            shutil.copyfile(folder / "live" / name, folder / "killed" / name)
        return folder / "killed" / "coach.db", tuple(session.events)


def flip(file: Path, at: int) -> None:
    raw = bytearray(file.read_bytes())
    raw[at] ^= 4
    file.write_bytes(raw)


def taken_by_sqlite(file: Path, folder: Path) -> int:
    """How many events SQLite finds in a copy of the record."""
    folder.mkdir()
    for suffix in ("", "-wal"):
        shutil.copyfile(f"{file}{suffix}", folder / f"coach.db{suffix}")
    with closing(sqlite3.connect(folder / "coach.db")) as connection:
        return int(connection.execute("SELECT count(*) FROM events").fetchone()[0])


def test_a_sound_journal_loses_nothing(tmp_path: Path) -> None:
    file, events = killed(tmp_path)
    journal = journal_of(file)
    assert journal is not None
    assert journal.lost == 0
    assert taken_by_sqlite(file, tmp_path / "copy") == len(events)


@pytest.mark.parametrize("frame", [0, 1, 4])
@pytest.mark.parametrize("within", [2, 9, 17, FRAME, FRAME + 3000])
def test_a_damaged_frame_is_seen_before_anything_is_lost_and_recovered(tmp_path: Path, frame: int, within: int) -> None:
    file, events = killed(tmp_path)
    flip(file.with_name("coach.db-wal"), HEADER + frame * (FRAME + PAGE) + within)
    assert taken_by_sqlite(file, tmp_path / "copy") < len(events)
    before = file.read_bytes(), file.with_name("coach.db-wal").read_bytes()
    with pytest.raises(CoachError, match=r"a damaged place in the journal, and \d+ more entries after it"):
        Store.open(file.parent, clock=Ticking())
    assert (file.read_bytes(), file.with_name("coach.db-wal").read_bytes()) == before
    recover(file.parent, clock=Ticking())
    assert batches_in(file.parent)["drawers"] == events


@pytest.mark.parametrize("at", [0, 9, 17, 25])
def test_a_damaged_beginning_of_the_journal_is_seen_and_recovered(tmp_path: Path, at: int) -> None:
    file, events = killed(tmp_path)
    flip(file.with_name("coach.db-wal"), at)
    with pytest.raises(CoachError, match="a damaged place in the journal"):
        Store.open(file.parent, clock=Ticking())
    recover(file.parent, clock=Ticking())
    assert batches_in(file.parent)["drawers"] == events


def test_rubbish_after_the_end_is_no_damage(tmp_path: Path) -> None:
    file, _ = killed(tmp_path)
    raw = file.with_name("coach.db-wal").read_bytes()
    for rubbish in (b"\0", b"\xa5", b"wood"):
        journal = read_journal(raw + rubbish * 20_000)
        assert journal is not None
        assert journal.lost == 0
