"""No cut is acknowledged into a file that is no longer there, and the journal is emptied in good time."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from support.small_batches import BEFORE_FIRST_CUT, JOB, SETTINGS, Ticking, go, go_to, upcoming

from coach.ground.errors import CoachError
from coach.plan.steps import StepKind
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.talk.remarks import farewell


def begun(store: Store) -> Session:
    session = start(store, "drawers", JOB, SETTINGS, "mm")
    go(session, BEFORE_FIRST_CUT + 3)
    return session


def older_copy(folder: Path) -> None:
    """What a sync tool does: another file under the same name."""
    shutil.copyfile(folder / "coach.db", folder / "copy")
    (folder / "copy").replace(folder / "coach.db")


LOSSES: dict[str, Callable[[Path], object]] = {
    "the folder deleted": shutil.rmtree,
    "the database deleted": lambda folder: (folder / "coach.db").unlink(),
    "the journal deleted": lambda folder: (folder / "coach.db-wal").unlink(),
    "the folder moved": lambda folder: folder.rename(folder.with_name("elsewhere")),
    "an older copy in its place": older_copy,
}


@pytest.mark.parametrize("lose", LOSSES.values(), ids=LOSSES.keys())
def test_a_key_is_refused_once_the_record_is_gone_and_nothing_is_said_to_be_saved(
    tmp_path: Path, lose: Callable[[Path], object]
) -> None:
    folder = tmp_path / "record"
    store = Store.open(folder, clock=Ticking())
    session = begun(store)
    done = len(session.walker.done)
    lose(folder)
    for _ in range(2):
        with pytest.raises(CoachError, match="this was not recorded"):
            session.complete(upcoming(session))
    assert len(session.walker.done) == done
    assert "all of it is saved" not in farewell(session)
    with pytest.raises(CoachError, match=r"no longer there|another file"):
        session.undo()


def test_while_all_is_there_all_is_saved(tmp_path: Path) -> None:
    with Store.open(tmp_path, clock=Ticking()) as store:
        session = begun(store)
        assert farewell(session).endswith("3 of 16 cuts are done, and all of it is saved.")


def in_the_database_alone(folder: Path, aside: Path) -> int:
    """How many events the database has without its journal."""
    shutil.copyfile(folder / "coach.db", aside)
    with closing(sqlite3.connect(f"{aside.as_uri()}?immutable=1", uri=True)) as connection:
        return int(connection.execute("SELECT count(*) FROM events").fetchone()[0])


def test_the_start_and_each_setting_go_into_the_database_itself(tmp_path: Path) -> None:
    folder = tmp_path / "record"
    with Store.open(folder, clock=Ticking()) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        assert in_the_database_alone(folder, tmp_path / "copy") == 2
        go_to(session, StepKind.SET_FENCE)
        go(session, 1)
        assert in_the_database_alone(folder, tmp_path / "copy") == len(session.events)
        go(session, 2)
        go_to(session, StepKind.SET_FENCE)
        go(session, 1)
        assert in_the_database_alone(folder, tmp_path / "copy") == len(session.events)
