"""A record that is missing isn't a new one, and what is left of it comes back."""

from __future__ import annotations

import json
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from support.damaged_records import batches_in
from support.small_batches import JOB, MORNING, SETTINGS, Clock, Ticking, go

from coach.cli import main
from coach.ground.errors import CoachError
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.record.rescue.recovery import recover


def filled(folder: Path, clock: Clock | None = None) -> Path:
    """A closed record with a batch under way and a backup of it; its file."""
    with Store.open(folder, clock=clock or Ticking()) as store:
        go(start(store, "drawers", JOB, SETTINGS, "mm"), 12)
        assert store.backup_of_the_day() is not None
    return folder / "coach.db"


def killed(folder: Path) -> tuple[int, Path]:
    """A record as a kill leaves it, its latest entries in the journal alone; how many there are, and its file."""
    with Store.open(folder / "live", clock=Ticking()) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        go(session, 12)
        store.backup_of_the_day()
        go(session, 2)
        shutil.copytree(folder / "live", folder / "killed")
        return len(session.events), folder / "killed" / "coach.db"


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


COMMANDS = (
    ("log",),
    ("log", "drawers"),
    ("log", "--csv"),
    ("export", "drawers", "out.json"),
    ("run", "--plain"),
    ("run", "--plain", "--batch", "drawers"),
)


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
@pytest.mark.parametrize("empty", [False, True])
def test_every_command_says_that_it_is_missing_and_makes_nothing(
    tmp_path: Path,
    command: tuple[str, ...],
    empty: bool,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    file = filled(tmp_path / "kept")
    monkeypatch.chdir(tmp_path)
    if empty:
        file.write_bytes(b"")
    else:
        file.unlink()
    before = contents(tmp_path)
    assert main([*command, "--data", str(file.parent)]) == 1
    said = capsys.readouterr().err
    assert f"the record {'is empty' if empty else 'is not there'}, but 1 backup, the latest of 2031-03-04" in said
    assert f"coach recover --data {file.parent}" in said
    assert "--new-record" in said
    assert contents(tmp_path) == before


def test_an_empty_file_does_not_cost_its_journal(tmp_path: Path) -> None:
    count, file = killed(tmp_path)
    file.write_bytes(b"")
    with pytest.raises(CoachError, match="is empty, but its journal and 1 backup"):
        Store.open(file.parent)
    recover(file.parent, clock=Ticking())
    assert len(batches_in(file.parent)["drawers"]) == count


def test_a_missing_file_does_not_cost_its_journal(tmp_path: Path) -> None:
    count, file = killed(tmp_path)
    file.unlink()
    with pytest.raises(CoachError, match="is not there, but its journal and 1 backup"):
        Store.open(file.parent)
    recover(file.parent, clock=Ticking())
    assert len(batches_in(file.parent)["drawers"]) == count


def test_a_damaged_copy_alone_is_recovered(tmp_path: Path) -> None:
    file = filled(tmp_path)
    shutil.rmtree(tmp_path / "backups")
    before = batches_in(tmp_path)
    file.rename(tmp_path / "coach-damaged-20310304-090000.db")
    with pytest.raises(CoachError, match=r"a damaged copy \(coach-damaged-20310304-090000\.db\) can be read"):
        Store.open(tmp_path)
    recover(tmp_path, clock=Ticking())
    assert batches_in(tmp_path) == before


def test_a_new_record_is_made_when_it_is_asked_for_and_the_journal_is_kept_beside_it(tmp_path: Path) -> None:
    _, file = killed(tmp_path)
    journal = (file.parent / "coach.db-wal").read_bytes()
    file.write_bytes(b"")
    with Store.open(file.parent, clock=Clock(), anew=True) as store:
        assert store.batches() == []
    assert (file.parent / "coach-damaged-20310304-093000.db-wal").read_bytes() == journal


def test_a_new_record_is_not_made_where_there_is_one(tmp_path: Path) -> None:
    filled(tmp_path)
    before = contents(tmp_path)
    with pytest.raises(CoachError, match="there is a record here"):
        Store.open(tmp_path, anew=True)
    assert contents(tmp_path) == before


def test_the_command_line_starts_anew_when_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    filled(tmp_path).unlink()
    assert main(["run", "--plain", "--new-record", "--data", str(tmp_path)]) == 1
    assert "no batch is under way" in capsys.readouterr().err
    assert main(["log", "--data", str(tmp_path)]) == 0
    assert "No batch has been started yet" in capsys.readouterr().out


def test_an_empty_folder_gets_a_new_record(tmp_path: Path) -> None:
    with Store.open(tmp_path / "new") as store:
        assert store.batches() == []


def test_an_empty_record_is_not_backed_up_and_a_fuller_backup_stays(tmp_path: Path) -> None:
    clock = Clock()
    filled(tmp_path, clock).unlink()
    (full,) = (tmp_path / "backups").iterdir()
    with Store.open(tmp_path, clock=clock, anew=True) as store:
        clock.time += timedelta(days=1)
        assert store.backup_of_the_day() is None
        start(store, "box", JOB, SETTINGS, "mm")
        for _ in range(20):
            clock.time += timedelta(days=1)
            assert store.backup_of_the_day() is not None
    left = sorted((tmp_path / "backups").iterdir())
    assert full in left
    assert len(left) == 15


def test_each_batch_comes_from_the_copy_that_has_most_of_it_whatever_its_name_says(tmp_path: Path) -> None:
    clock = Clock()
    with Store.open(tmp_path, clock=clock) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        clock.time = MORNING.replace(year=2100)  # for one day the clock is wrong
        go(session, 3)
        assert store.backup_of_the_day() is not None
        clock.time = MORNING + timedelta(days=1)
        go(session, 9)
        start(store, "box", JOB, SETTINGS, "mm")
        assert store.backup_of_the_day() is not None
    before = batches_in(tmp_path)
    (tmp_path / "coach.db").unlink()
    found = recover(tmp_path, clock=clock)
    assert batches_in(tmp_path) == before
    assert [path.name for path in found.backups] == ["coach-20310305-093000.db"]


def test_a_batch_that_only_an_older_backup_has_comes_from_there(tmp_path: Path) -> None:
    clock = Clock()
    filled(tmp_path, clock)
    drawers = batches_in(tmp_path)["drawers"]
    (tmp_path / "coach.db").unlink()
    clock.time += timedelta(days=1)
    with Store.open(tmp_path, clock=clock, anew=True) as store:
        start(store, "box", JOB, SETTINGS, "mm")
        assert store.backup_of_the_day() is not None
    box = batches_in(tmp_path)["box"]
    (tmp_path / "coach.db").write_bytes(b"rubbish")
    found = recover(tmp_path, clock=clock)
    assert batches_in(tmp_path) == {"drawers": drawers, "box": box}
    assert "from the backup coach-20310304-093000.db" in "".join(line for line in found.lines if "drawers" in line)
    assert "from the backup coach-20310305-093000.db" in "".join(line for line in found.lines if "box" in line)


def test_a_sound_record_gets_back_what_only_a_backup_has(tmp_path: Path) -> None:
    clock = Clock()
    filled(tmp_path, clock).unlink()
    clock.time += timedelta(days=1)
    with Store.open(tmp_path, clock=clock, anew=True) as store:
        start(store, "box", JOB, SETTINGS, "mm")
    found = recover(tmp_path, clock=clock)
    assert found.lines[0].endswith("it is sound, but there is more in the backups.")
    assert found.batches == ("box", "drawers") or found.batches == ("drawers", "box")
    with pytest.raises(CoachError, match="the record is sound"):
        recover(tmp_path, clock=clock)


def test_what_is_missing_at_a_batchs_end_is_said(tmp_path: Path) -> None:
    file = filled(tmp_path)
    with Store.open(tmp_path, clock=Ticking()) as store:
        row = store.batch_named("drawers")
        assert row is not None
        session = Session(store, row)
        go(session, 5)
        whole = len(session.events)
    latest = json.dumps(session.events[-1].data, separators=(",", ":")).encode()
    raw = file.read_bytes()
    assert raw.count(latest) == 1
    file.write_bytes(raw.replace(latest, latest.replace(b"setting", b"setzing")))
    found = recover(tmp_path, clock=Ticking())
    assert f"of {whole} entries, from" in "".join(found.lines)
    assert "Look at the boards before you cut" in found.lines[-1]
