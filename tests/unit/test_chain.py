"""Rot that SQLite doesn't see: whatever changes in what was written is found, told, and never taken as true."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from hashlib import blake2b
from pathlib import Path

import pytest
from support.small_batches import BEFORE_FIRST_CUT, JOB, SETTINGS, Ticking, go

from coach.cli import main
from coach.ground.errors import CoachError
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.record.exchange import export_batch
from coach.record.rescue.recovery import recover
from coach.record.rows import Event


def made(folder: Path) -> tuple[Event, ...]:
    """A batch under way in a closed record beside another; its events."""
    with Store.open(folder, clock=Ticking()) as store:
        start(store, "other", JOB, SETTINGS, "mm")
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        go(session, BEFORE_FIRST_CUT + 5)
        return tuple(session.events)


def spoil(folder: Path, *statements: str) -> None:
    with closing(sqlite3.connect(folder / "coach.db")) as connection:
        for trigger in ("update", "delete"):
            connection.execute(f"DROP TRIGGER events_no_{trigger}")
        for statement in statements:
            connection.execute(statement)
        connection.commit()


ROT = {
    "a letter": """UPDATE events SET data = replace(data, '"side 1"', '"sidf 1"') WHERE batch = 2 AND number = 12""",
    "a digit": """UPDATE events SET data = replace(data, '"tail":2', '"tail":1') WHERE batch = 2 AND kind = 'cut'""",
    "a time": "UPDATE events SET at = replace(at, '09:30', '09:31') WHERE batch = 2 AND number = 5",
    "a kind": "UPDATE events SET kind = 'clear' WHERE batch = 2 AND number = 12",
    "no JSON": "UPDATE events SET data = '{' WHERE batch = 2 AND number = 12",
    "a number": "UPDATE events SET number = 99 WHERE batch = 2 AND number = 12",
    "an event gone": "DELETE FROM events WHERE batch = 2 AND number = 9",
    "the last event gone": "DELETE FROM events WHERE batch = 2 AND number = (SELECT max(number) FROM events)",
    "another name": "UPDATE batches SET name = 'drawert' WHERE id = 2",
    "another start": "UPDATE batches SET started = replace(started, '2031', '2030') WHERE id = 2",
}


@pytest.mark.parametrize("statement", ROT.values(), ids=ROT.keys())
def test_whatever_changes_in_a_batch_is_found_when_it_is_opened_and_the_others_go_on(
    tmp_path: Path, statement: str
) -> None:
    made(tmp_path)
    spoil(tmp_path, statement)
    with Store.open(tmp_path, clock=Ticking()) as store:
        row = store.batch(2)
        with pytest.raises(CoachError, match="coach recover") as caught:
            Session(store, row)
        assert f"batch “{row.name}”" in str(caught.value)
        with pytest.raises(CoachError):
            list(export_batch(store, row))
        other = Session(store, store.batch(1))
        go(other, 3)


@pytest.mark.parametrize("statement", ROT.values(), ids=ROT.keys())
def test_recovery_keeps_nothing_that_was_not_written(tmp_path: Path, statement: str) -> None:
    events = made(tmp_path)
    spoil(tmp_path, statement)
    recover(tmp_path, clock=Ticking())
    with Store.open(tmp_path, clock=Ticking()) as store:
        assert len(list(store.events(1))) == 2
        for row in store.batches():
            if row.name in ("drawers", "drawert"):
                kept = list(store.events(row.id))
                assert kept == list(events[: len(kept)])
                assert len(kept) >= 2


def test_a_backup_of_rot_is_refused_and_no_older_one_goes(tmp_path: Path) -> None:
    made(tmp_path)
    spoil(tmp_path, ROT["a letter"])
    with Store.open(tmp_path, clock=Ticking()) as store, pytest.raises(CoachError, match="event 12 of batch 2"):
        store.backup_of_the_day()
    assert not list((tmp_path / "backups").glob("*.db"))


@pytest.mark.parametrize("command", [("log", "drawers"), ("log", "--json"), ("run", "--batch", "drawers", "--plain")])
def test_every_command_says_so_in_words(
    tmp_path: Path, command: tuple[str, ...], capsys: pytest.CaptureFixture[str], home: Path
) -> None:
    made(tmp_path / "record")
    spoil(tmp_path / "record", ROT["a digit"])
    assert main([*command, "--data", str(tmp_path / "record")]) == 1
    said = capsys.readouterr().err
    assert "batch “drawers” is damaged: event" in said
    assert "coach recover" in said


def test_a_flipped_bit_anywhere_in_the_events_text_is_found(tmp_path: Path) -> None:
    made(tmp_path)
    file = tmp_path / "coach.db"
    sound = file.read_bytes()
    chance = random.Random(3)  # noqa: S311 - no secret
    with closing(sqlite3.connect(file)) as connection:
        texts = [str(row[0]).encode() for row in connection.execute("SELECT data FROM events WHERE batch = 2")]
    for _ in range(40):
        text = chance.choice([text for text in texts if sound.count(text) == 1])
        at = sound.index(text) + chance.randrange(len(text))
        file.write_bytes(sound[:at] + bytes([sound[at] ^ (1 << chance.randrange(7))]) + sound[at + 1 :])
        with Store.open(tmp_path, clock=Ticking()) as store, pytest.raises(CoachError):
            Session(store, store.batch(2))
    file.write_bytes(sound)


def test_the_links_are_those_of_the_standard_librarys_hash(tmp_path: Path) -> None:
    made(tmp_path)
    with closing(sqlite3.connect(tmp_path / "coach.db")) as connection:
        name, started, last = connection.execute("SELECT name, started, sum FROM batches WHERE id = 2").fetchone()
        now = f"{name}\n{started}"
        digest: Callable[[str], str] = lambda text: blake2b(text.encode(), digest_size=16).hexdigest()  # noqa: E731
        now = digest(now)
        rows = connection.execute("SELECT number, at, kind, data, sum FROM events WHERE batch = 2 ORDER BY number")
        for number, at, kind, data, stored in rows:
            now = digest(f"{now}\n{number}\n{at}\n{kind}\n{data}")
            assert now == stored
    assert now == last


def test_an_older_record_with_a_gap_is_not_brought_to_the_newer_schema(tmp_path: Path) -> None:
    fixture = Path(__file__).resolve().parents[1] / "fixtures" / "schema-1.db"
    (tmp_path / "coach.db").write_bytes(fixture.read_bytes())
    spoil(tmp_path, "DELETE FROM events WHERE batch = 2 AND number = 9")
    with pytest.raises(CoachError, match="coach recover"):
        Store.open(tmp_path, clock=Ticking())
    with closing(sqlite3.connect(tmp_path / "coach.db")) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == 1
