"""Reading the record where nothing can be written, and looking for damage beside the screen."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from support.small_batches import JOB, SETTINGS, Ticking, go

from coach.commands.progress import progress_bar
from coach.record.batch.session import start
from coach.record.disk.checking import damaged_batches
from coach.record.disk.store import Store

FIXTURES = Path(__file__).parents[1] / "fixtures"
# A superuser's process may write whatever the modes say; without its capabilities it is like any other's.
COMMANDS = """
import ctypes, os, sys
header = (ctypes.c_uint32 * 2)(0x20080522, 0)
assert ctypes.CDLL(None, use_errno=True).capset(header, (ctypes.c_uint32 * 6)()) == 0
from coach.cli import entry
sys.argv = ["coach", *sys.argv[1:]]
entry()
"""
linux_only = pytest.mark.skipif(sys.platform != "linux", reason="capabilities as Linux has them")


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def read_only(folder: Path) -> None:
    for path in folder.rglob("*"):
        path.chmod(0o444)
    folder.chmod(0o555)


def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", COMMANDS, *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


@linux_only
@pytest.mark.parametrize("how", ["closed", "killed", "of schema 1"])
def test_log_and_export_work_on_a_medium_that_cannot_be_written(tmp_path: Path, how: str) -> None:
    folder = tmp_path / "medium"
    folder.mkdir()
    if how == "of schema 1":
        shutil.copyfile(FIXTURES / "schema-1.db", folder / "coach.db")
        name, cuts = "under way", "5 of 24"
    else:
        name, cuts = "drawers", "3 of 16"
        with Store.open(tmp_path / "live", clock=Ticking()) as store:
            session = start(store, name, JOB, SETTINGS, "mm")
            while len(session.walker.done) < 3:
                go(session, 1)
            if how == "killed":
                for file in ("coach.db", "coach.db-wal"):
                    shutil.copyfile(tmp_path / "live" / file, folder / file)
        if how == "closed":
            shutil.copyfile(tmp_path / "live" / "coach.db", folder / "coach.db")
    before = contents(folder)
    read_only(folder)
    done = run("log", "--data", folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert cuts in done.stdout
    assert run("log", name, "--data", folder).returncode == 0
    assert run("log", name, "--json", "--data", folder).stdout.count('"kind":"cut"') in (3, 7)
    out = tmp_path / "out.json"
    done = run("export", name, out, "--data", folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert out.exists()
    assert contents(folder) == before
    refused = run("run", "--plain", "--batch", name, "--data", folder)
    assert refused.returncode == 1
    assert "read-only" in refused.stderr
    folder.chmod(0o755)


def test_damaged_batches_are_found_from_a_thread_of_their_own(tmp_path: Path) -> None:
    with Store.open(tmp_path, clock=Ticking()) as store:
        for name in ("one", "two", "three", "four"):
            go(start(store, name, JOB, SETTINGS, "mm"), 3)
        assert list(damaged_batches(store.file)) == []
    with closing(sqlite3.connect(tmp_path / "coach.db", isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER events_no_update")
        connection.execute("UPDATE events SET data = replace(data, 'ends', 'enda') WHERE batch = 2")
        connection.execute("UPDATE batches SET cuts_done = 7 WHERE id = 4")
    assert sorted(damaged_batches(tmp_path / "coach.db")) == [2, 4]
    assert list(damaged_batches(tmp_path / "nowhere.db")) == []


def test_a_progress_bar_is_shown_where_a_person_sees_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with progress_bar() as say:
        say("reading", 0.5)
    assert capsys.readouterr().err == ""
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    with progress_bar() as say:
        say("reading", 0.5)
    err = capsys.readouterr().err
    assert "reading" in err
    assert "50%" in err
