"""A change that was the last thing done is taken back: all is as it was before it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from support.mid_batch import begun, even, tools
from support.small_batches import Ticking, go, go_to
from support.small_jobs import plain

from coach.plan.steps import StepKind
from coach.plan.wrong import Mistake
from coach.record import corrections
from coach.record.exchange import export_batch, import_batch, write_new
from coach.record.session import Session
from coach.record.store import Store
from coach.sheets.board_table import board_progress
from coach.talk.remarks import change_taken_back
from coach.words import Hand

BOARDS = even(tools(0.9, 80.0, Hand.RIGHT, None, wide_leads=True))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path, clock=Ticking()) as opened:
        yield opened


def test_a_board_said_to_be_spoiled_is_taken_back_and_the_spare_is_a_spare_again(store: Store) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    go(session, 3)
    before = session.walker.situation()
    session.change(corrections.spoil(session, 1, "split").events)
    assert session.walker.out == {1}
    taken = session.undo_change()
    assert taken is not None
    assert change_taken_back(taken) == "Taken back: side 1 isn't spoiled."
    assert session.walker.situation() == before
    assert Session(store, store.batch(session.id)).walker.situation() == before
    assert all("spoiled" not in row.notes for row in board_progress(session.walker, session.events))


def test_boards_that_were_added_and_taken_back_leave_their_numbers_free(store: Store, tmp_path: Path) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    go(session, 2)
    session.change(corrections.add_boards(session, 1, 2, spare=False)[1].events)
    assert session.undo_change() is not None
    session.change(corrections.add_boards(session, 1, 1, spare=False)[1].events)
    assert len(session.job.boards) == 4
    write_new(tmp_path / "batch.json", export_batch(store, store.batch(session.id)))
    with Store.open(tmp_path / "other") as other:
        row = import_batch(other, tmp_path / "batch.json", name=None)
        assert Session(other, row).walker.situation() == session.walker.situation()


def test_a_change_after_which_something_was_done_is_not_taken_back(store: Store) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    session.change(corrections.skip(session, 1).events)
    go(session, 1)
    assert session.undo_change() is None
    session.undo()
    assert session.undo_change() is not None


def test_what_was_said_of_a_wrong_cut_is_not_taken_back_as_a_change(store: Store) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    go(session, 1)
    cut = session.events[-1]
    session.change(corrections.cut_wrong(session, cut, Mistake.OFF_LINE, 24.0, plain)[1].events)
    assert session.walker.out
    assert session.undo_change() is None
