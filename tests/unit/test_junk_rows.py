"""No row of the database, whatever it holds, ends in a traceback: clean words from every command, and the other batch
goes on."""

from __future__ import annotations

import io
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from support.small_batches import JOB, SETTINGS, Ticking, go

from coach.cli import main
from coach.ground.errors import CoachError
from coach.record.batch.session import Session, start
from coach.record.chain import SEALED_COLUMNS, beginning, link, seal
from coach.record.disk.store import Store
from coach.record.rows import Tally

JUNK: dict[str, object] = {
    "nothing": None,
    "an empty text": "",
    "a word": "junk",
    "a control sequence and the other direction": "\x1b[31m\u202ekrow",
    "ten thousand letters": "x" * 10_000,
    "bytes": b"\xff\x00\xfe",
    "what is no UTF-8": "CAST(x'ff7b7d' AS TEXT)",
    "less than nothing": -1,
    "a huge number": 2**62,
    "a fraction": 1.5,
    "a time in year 0": "0000-01-01T00:00:00.000+00:00",
    "a time before 1970": "1960-01-01T00:00:00.000+00:00",
    "a time in 9999": "9999-12-31T23:59:59.999-11:00",
    "a time without an offset": "2031-03-04T09:30:00",
    "a list": "[1, 2]",
    "a table of other things": '{"number": "x", "layouts": 7, "setting": 1e400, "end": null}',
}
COLUMNS = {
    "batches": ("id", *SEALED_COLUMNS.split(", "), "seal"),
    "events": ("id", "batch", "number", "at", "kind", "data", "sum"),
    "leftovers": ("id", "batch", "why", "number", "at", "kind", "data"),
}
CASES = [
    (table, column, rechained)
    for table, columns in COLUMNS.items()
    for column in columns
    for rechained in (False, True)
    if not (rechained and table == "leftovers")  # which have no checksums
]
ONLY_FOR_DATA = ("a list", "a table of other things")
FOR_ALL_COMMANDS = ("nothing", "a word", "bytes", "a control sequence and the other direction", "a time in 9999")
ELSEWHERE_TOO = ("a fraction", "an empty text", "a time in 9999", "a time without an offset")


@cache
def sound() -> bytes:
    """A closed record with two batches under way, in the second of which an event is kept that doesn't count."""
    with TemporaryDirectory() as name:
        with Store.open(Path(name), clock=Ticking()) as store:
            go(start(store, "other", JOB, SETTINGS, "mm"), 3)
            session = start(store, "drawers", JOB, SETTINGS, "mm")
            go(session, 14)
            left = ("after a gap", (99, session.events[-1].at, "cut", '{"board":"side 1","end":"A","setting":0}'))
            store.put_back("third", session.events[0].at, _texts(store, session.id), _tally(store, session.id), [left])
        return (Path(name) / "coach.db").read_bytes()


def _texts(store: Store, batch: int) -> list[tuple[int, str, str, str]]:
    return list(store.texts(batch))


def _tally(store: Store, batch: int) -> Tally:
    row = store.batch(batch)
    return Tally(row.cuts, row.cuts_done, row.steps_left, finished=row.finished)


def spoiled(file: Path, table: str, column: str, junk: object, *, rechained: bool) -> None:
    """Puts junk into one row of the second batch, checksums and all if told."""
    file.parent.mkdir(parents=True)
    file.write_bytes(sound())
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.executescript(
            "PRAGMA journal_mode = DELETE; PRAGMA writable_schema = ON;"
            "UPDATE sqlite_master SET sql = replace(sql, 'NOT NULL', '') WHERE type = 'table';"
            "DELETE FROM sqlite_master WHERE type = 'trigger'; PRAGMA writable_schema = OFF;"
        )
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        which = {"batches": "id = 2", "events": "batch = 2 AND number = 12", "leftovers": "id = 1"}[table]
        value, values = ("?", (junk,)) if junk != JUNK["what is no UTF-8"] else (str(junk), ())
        try:
            connection.execute(f"UPDATE {table} SET {column} = {value} WHERE {which}", values)  # noqa: S608
        except sqlite3.IntegrityError:
            pytest.skip("a place for whole numbers alone")
        if rechained:
            connection.text_factory = lambda raw: raw.decode(errors="replace")
            rechain(connection)


def rechain(connection: sqlite3.Connection) -> None:
    for batch, name, started in connection.execute("SELECT id, name, started FROM batches").fetchall():
        now = beginning(name, started)
        rows = connection.execute("SELECT id, number, at, kind, data FROM events WHERE batch = ?", (batch,)).fetchall()
        for row, *event in rows:
            now = link(now, *event)
            connection.execute("UPDATE events SET sum = ? WHERE id = ?", (now, row))
        connection.execute("UPDATE batches SET sum = ? WHERE id = ?", (now, batch))
        row = connection.execute(f"SELECT {SEALED_COLUMNS} FROM batches WHERE id = ?", (batch,)).fetchone()  # noqa: S608
        connection.execute("UPDATE batches SET seal = ? WHERE id = ?", (seal(*row), batch))


def commands(folder: Path, out: Path, table: str, *, every: bool) -> Iterator[list[str]]:
    """What is tried with a damaged record: all that reads the batch, and if told all that reads every batch."""
    data = ["--data", str(folder)]
    name = "third" if table == "leftovers" else "drawers"
    yield ["log", name, *data]
    yield ["export", name, str(out / f"{name}.json"), *data]
    yield ["run", "--plain", "--batch", name, *data]
    if not every:
        return
    yield ["log", *data]
    yield ["log", "--json", *data]
    yield ["log", "--csv", *data]
    yield ["run", "--plain", *data]


@pytest.mark.parametrize(("table", "column", "rechained"), CASES)
def test_junk_in_a_column_is_told_in_clean_words_and_recovered(
    tmp_path: Path,
    table: str,
    column: str,
    rechained: bool,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    home: Path,
) -> None:
    for number, (what, junk) in enumerate(JUNK.items()):
        if (what in ONLY_FOR_DATA and column != "data") or (what in ELSEWHERE_TOO and rechained and column != "at"):
            continue
        folder = tmp_path / f"record {number}"
        try:
            spoiled(folder / "coach.db", table, column, junk, rechained=rechained)
        except pytest.skip.Exception:
            continue
        (out := tmp_path / f"out {number}").mkdir()
        for command in commands(folder, out, table, every=what in FOR_ALL_COMMANDS or column == "data"):
            monkeypatch.setattr("sys.stdin", io.StringIO("\nq\n"))
            code = main(command)
            said = capsys.readouterr()
            assert code in (0, 1), (junk, command[:2], said.err[-500:])
            assert "Traceback" not in said.out + said.err
            shown = said.err if command[1] in ("--json", "--csv") else said.out + said.err
            assert re.search(r"[\x1b\u202e\x00]", shown) is None, (junk, command[:2], said.err[-500:])
            if code:
                assert re.search("coach recover|no batch|newer coach", said.err), (junk, command[:2], said.err[-500:])
                assert len(said.err) < 4000
        assert main(["log", "other", "--data", str(folder)]) == 0, (junk, capsys.readouterr())
        with Store.open(folder, clock=Ticking()) as store:
            row = store.batch_named("other")
            assert row is not None
            go(Session(store, row), 2)
        capsys.readouterr()
        code = main(["recover", "--data", str(folder)])
        said = capsys.readouterr()
        assert code == 0 or "is sound" in said.err, (junk, said)
        with Store.open(folder, clock=Ticking()) as store:
            for row in store.batches():
                assert not row.fault, (junk, row)
                try:
                    session = Session(store, row)
                except CoachError as error:
                    if "a newer coach" not in str(error):
                        raise
                    continue
                if session.next() is not None:
                    go(session, 1)
