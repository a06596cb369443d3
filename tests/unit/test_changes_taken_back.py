"""A change that was the last thing done is taken back: all is as it was before it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from support.mid_batch import begun, even, tools
from support.small_batches import Ticking, go, go_to
from support.small_jobs import plain

from coach.ground.terms import Hand, Lie
from coach.plan.judging.mistakes import Mistake
from coach.plan.steps import StepKind
from coach.record.batch import corrections
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.record.exchange import export_batch, import_batch, write_new
from coach.talk.remarks import taken_back
from coach.telling.log.boards import board_progress
from coach.telling.phrases import Saying

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
    taken = session.undo()
    words = taken_back(session.walker, taken, Saying("mm", None))
    assert words == "Taken back: side 1 isn't spoiled, side 3 is a spare again."
    assert session.walker.situation() == before
    assert Session(store, store.batch(session.id)).walker.situation() == before
    assert all("spoiled" not in row.notes for row in board_progress(session.walker, session.events))


def test_boards_that_were_added_and_taken_back_leave_their_numbers_free(store: Store, tmp_path: Path) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    go(session, 2)
    session.change(corrections.add_boards(session, 1, 2, spare=False)[1].events)
    assert [event.kind for event in session.undo()] == ["add"]
    session.change(corrections.add_boards(session, 1, 1, spare=False)[1].events)
    assert len(session.job.boards) == 4
    write_new(tmp_path / "batch.json", export_batch(store, store.batch(session.id)))
    with Store.open(tmp_path / "other") as other:
        row = import_batch(other, tmp_path / "batch.json", name=None)
        assert Session(other, row).walker.situation() == session.walker.situation()


def test_a_change_after_which_something_was_done_is_taken_back_after_that(store: Store) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    before = session.walker.situation()
    session.change(corrections.skip(session, 1).events)
    go(session, 1)
    assert [event.kind for event in session.undo()] == ["cut"]
    assert [event.kind for event in session.undo()] == ["skip"]
    assert session.walker.situation() == before


@pytest.mark.parametrize(
    ("mistake", "off_mm", "kinds", "words"),
    [
        (Mistake.OFF_LINE, 0.0, {"wrong"}, "what was said of side 1, end A, tail 2, top side"),
        (Mistake.OFF_LINE, 0.6, {"wrong", "mend"}, "side 1, end A, has its own marks and baseline"),
        (Mistake.OFF_LINE, 24.0, {"wrong", "spoil"}, "side 1 isn't spoiled, side 3 is a spare again"),
        (Mistake.OFF_LINE, -0.6, {"wrong", "undo"}, "the cut stands again"),
        (Mistake.WRONG_END, 0.0, {"wrong", "undo", "cut"}, "the cut stands again"),
        (Mistake.TOO_DEEP, 0.4, {"wrong", "mend"}, "side 1, end A, has its own marks and baseline"),
    ],
)
def test_all_that_was_said_of_a_wrong_cut_is_taken_back_together_and_the_cut_stands(
    store: Store, mistake: Mistake, off_mm: float, kinds: set[str], words: str
) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    go(session, 1)
    cut, before = session.events[-1], session.walker.situation()
    session.change(corrections.cut_wrong(session, cut, mistake, off_mm, plain)[1].events)
    taken = session.undo()
    assert {event.kind for event in taken} == kinds
    assert words in taken_back(session.walker, taken, Saying("mm", None))
    assert session.walker.situation() == before
    assert Session(store, store.batch(session.id)).walker.situation() == before
    assert [event.number for event in session.undo()] == [cut.number]


def test_another_shop_is_taken_back(store: Store, tmp_path: Path) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    go(session, 3)
    before = session.walker.situation()
    session.change(corrections.change_shop(session, tools(1.1, 80.0, Hand.RIGHT, None, wide_leads=True), plain).events)
    go_to(session, StepKind.CUT)
    while session.walker.situation() != before:
        taken = session.undo()
        assert taken
    assert taken_back(session.walker, taken, Saying("mm", None)) == (
        "Taken back: blade, jig, fence and scale are as they were."
    )
    write_new(tmp_path / "batch.json", export_batch(store, store.batch(session.id)))
    with Store.open(tmp_path / "other") as other:
        row = import_batch(other, tmp_path / "batch.json", name=None)
        assert Session(other, row).walker.situation() == before


def test_a_cut_corrected_some_time_ago_stands_again_when_that_is_taken_back(store: Store) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    go(session, 3)
    before = session.walker.situation()
    session.change(corrections.take_back(session, session.events[-2]).events)
    assert len(session.walker.done) == 2
    assert taken_back(session.walker, session.undo(), Saying("mm", None)) == "Taken back: the cut stands again."
    assert session.walker.situation() == before


def test_what_was_said_of_how_a_board_lies_and_taken_back_counts_no_more(store: Store) -> None:
    session = begun(store, BOARDS)
    go_to(session, StepKind.CUT)
    go(session, 1)
    cut = session.events[-1]
    lie = session.walker.lies[1]
    session.change(corrections.cut_wrong(session, cut, Mistake.WRONG_EDGE, 0.0, plain)[1].events)
    session.undo()
    session.change(corrections.cut_wrong(session, cut, Mistake.WRONG_END, 0.0, plain)[1].events)
    assert session.walker.lies[1] == Lie(lie.end.other, lie.edge)
