"""A snapshot gives back the walk that it was taken of, or is as if there were none."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from support.damaged_records import changed_in_every_way
from support.small_batches import JOB, SETTINGS, Ticking, go

from coach.plan.steps import StepKind
from coach.plan.walking.walker import Walker
from coach.record.batch.course import Course, Undos
from coach.record.batch.events import begun, fold
from coach.record.batch.session import Session, start
from coach.record.batch.snapshots import kept_in, snapshot_data
from coach.record.disk.store import Store
from coach.record.rows import EVERY


def walks(session: Session) -> Iterator[tuple[Walker, list[tuple[int, int]]]]:
    """The walk after each event of a batch, with the undos so far."""
    events = list(session.events)
    course = Course(begun(events), 2, Undos(), lambda: events)
    for place in range(2, len(events)):
        course.take(events[place : place + 1], events[:place])
        yield course.walker, list(course.undos.pairs)


def same(one: Walker, other: Walker) -> None:
    assert one.situation() == other.situation()
    assert one.in_hand == other.in_hand
    assert one.peek() == other.peek()


def test_after_every_kind_of_change_it_gives_the_walk_back(tmp_path: Path) -> None:
    with Store.open(tmp_path, clock=Ticking()) as store:
        session = changed_in_every_way(store)
        while session.next() is not None:
            go(session, 1)
        for walker, undos in walks(session):
            data = snapshot_data(walker, undos, JOB, SETTINGS)
            kept = kept_in(data, JOB, SETTINGS)
            assert kept is not None
            same(kept.walker, walker)
            assert list(kept.undos) == undos


def test_the_course_is_the_fold_after_each_event(tmp_path: Path) -> None:
    with Store.open(tmp_path, clock=Ticking()) as store:
        session = changed_in_every_way(store)
        for number, (walker, undos) in enumerate(walks(session), 3):
            same(walker, fold(session.events[:number]))
            assert Undos(undos).numbers == Undos([(n, of) for n, of in undos]).numbers


@pytest.mark.parametrize(
    "data", ["", "{}", "[]", '{"format":2}', '{"format":1,"shop":null}', "null", "nan", '{"format":1,"patterns":7}']
)
def test_what_cannot_be_read_is_as_if_there_were_none(data: str) -> None:
    assert kept_in(data, JOB, SETTINGS) is None


def filled(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.record.batch.session.EVERY", 8)
    monkeypatch.setattr("coach.record.batch.session._AT_HAND", 2)
    monkeypatch.setattr("coach.record.batch.session._READ_BACK", 2)
    with Store.open(folder, clock=Ticking()) as store:
        go(start(store, "drawers", JOB, SETTINGS, "mm"), 20)


def resumed(folder: Path) -> Session:
    with Store.open(folder, clock=Ticking()) as store:
        row = store.batch_named("drawers")
        assert row is not None
        session = Session(store, row)
        same(session.walker, fold(list(store.events(row.id))))
        assert len(session.events) == store.latest(row.id)
        return session


def changed(folder: Path, statement: str) -> None:
    with closing(sqlite3.connect(folder / "coach.db", isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER events_no_update")
        connection.execute(statement)


def test_a_long_batch_is_resumed_from_its_snapshot_without_reading_what_was_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(tmp_path, monkeypatch)
    session = resumed(tmp_path)
    assert len(session.events.at_hand) < len(session.events)


@pytest.mark.parametrize(
    "statement",
    [
        'UPDATE snapshots SET data = replace(data, \'"done":"\', \'"done":"A\')',
        "UPDATE snapshots SET data = 'junk'",
        "UPDATE snapshots SET data = NULL",
        "UPDATE snapshots SET sum = ''",
        "UPDATE snapshots SET number = number + 1",
        "UPDATE snapshots SET number = 999999",
        "UPDATE snapshots SET link = ''",
        "UPDATE snapshots SET batch = 7",
        "DELETE FROM snapshots",
        "DROP TABLE snapshots",
    ],
)
def test_a_snapshot_in_doubt_is_thrown_away(tmp_path: Path, statement: str, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(tmp_path, monkeypatch)
    try:
        changed(tmp_path, statement)
    except sqlite3.IntegrityError:
        pytest.skip("the schema forbids it")
    session = resumed(tmp_path)
    assert len(session.events.at_hand) == len(session.events)


def test_what_is_taken_back_from_before_a_snapshot_is_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(tmp_path, monkeypatch)
    with Store.open(tmp_path, clock=Ticking()) as store:
        row = store.batch_named("drawers")
        assert row is not None
        session = Session(store, row)
        while session.undo():
            same(session.walker, fold(list(store.events(row.id))))
        go(session, 1)
    resumed(tmp_path)


def test_a_refused_key_leaves_the_walk_where_it_was(tmp_path: Path) -> None:
    with Store.open(tmp_path / "here", clock=Ticking()) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        go(session, 12)
        before = session.walker.situation()
        (tmp_path / "here").rename(tmp_path / "there")
        with pytest.raises(Exception, match="no longer there"):
            session.undo()
        assert session.walker.situation() == before
        (tmp_path / "there").rename(tmp_path / "here")
        assert [event.kind for event in session.undo()] == [StepKind.CUT]


def test_snapshots_are_taken_and_only_two_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert EVERY == 1000
    filled(tmp_path, monkeypatch)
    with Store.open(tmp_path, clock=Ticking()) as store:
        assert [one.number for one in store.snapshots(1)] == [16, 8]
        row = store.batch(1)
        go(Session(store, row), 4)
        assert [one.number for one in store.snapshots(1)] == [24, 16]
