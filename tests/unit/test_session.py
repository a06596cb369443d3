"""A batch under way: doing, undoing, two windows, and names."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from support.small_batches import ALL_STEPS, BEFORE_FIRST_CUT, JOB, SETTINGS, Clock, go, upcoming
from support.small_jobs import two_tails

from coach.ground.errors import CoachError
from coach.plan.steps import OVER, StepKind
from coach.plan.walking.alike_ends import first_topics
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan
from coach.record.batch.events import step_of
from coach.record.batch.session import Session, same_layouts, start, unfinished_batch
from coach.record.disk.store import Store
from coach.record.rows import Stale


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    with Store.open(tmp_path, clock=clock) as opened:
        yield opened


@pytest.fixture
def session(store: Store) -> Session:
    return start(store, "drawers", JOB, SETTINGS, "mm")


def test_a_new_batch_stands_at_the_beginning(session: Session) -> None:
    assert session.walker.situation() == beginning(JOB, SETTINGS)


def test_a_batch_goes_through_its_plan_to_the_end(session: Session) -> None:
    meant = list(plan(beginning(JOB, SETTINGS)))
    went = []
    while (step := session.next()) is not None:
        went.append(step)
        session.complete(step)
    assert went == meant


def test_a_batch_is_finished_when_its_last_step_is_done(session: Session, store: Store) -> None:
    go(session, ALL_STEPS - 1)
    assert not store.batch(session.id).finished
    go(session, 1)
    assert store.batch(session.id).finished


def test_the_tally_in_the_list_counts_the_cuts_that_are_done(session: Session, store: Store) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    row = store.batch(session.id)
    assert (row.cuts, row.cuts_done) == (16, 3)


def test_undo_takes_back_the_latest_step_and_says_which(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)
    before = session.walker.situation()
    cut = upcoming(session)
    session.complete(cut)
    assert [step_of(event) for event in session.undo()] == [cut]
    assert session.walker.situation() == before


def test_undo_lowers_the_tally(session: Session, store: Store) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    session.undo()
    assert store.batch(session.id).cuts_done == 2


def test_undo_pressed_again_goes_further_back(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)
    before = session.walker.situation()
    go(session, 3)
    for _ in range(3):
        session.undo()
    assert session.walker.situation() == before


def test_undo_goes_back_to_the_beginning_and_no_further(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 5)
    while session.undo():
        pass
    assert session.walker.situation() == beginning(JOB, SETTINGS)
    events = len(session.events)
    assert session.undo() == ()
    assert len(session.events) == events


def test_undo_goes_back_over_a_moved_fence_and_the_turned_stack(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 8)
    before = session.walker.situation()
    assert upcoming(session).kind is StepKind.SET_FENCE
    go(session, 2)
    session.undo()
    session.undo()
    assert session.walker.situation() == before


def test_a_step_taken_back_and_done_again_leaves_no_difference(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 4)
    there = session.walker.situation()
    session.undo()
    session.undo()
    go(session, 2)
    assert session.walker.situation() == there


def test_undo_after_a_step_done_again_takes_that_one_back(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    before = session.walker.situation()
    go(session, 1)
    session.undo()
    go(session, 1)
    session.undo()
    assert session.walker.situation() == before
    session.undo()
    assert len(session.walker.done) == 0


def test_nothing_is_ever_deleted(session: Session, store: Store) -> None:
    go(session, BEFORE_FIRST_CUT + 2)
    written = list(store.events(session.id))
    session.undo()
    session.undo()
    assert list(store.events(session.id))[: len(written)] == written
    assert len(list(store.events(session.id))) == len(written) + 2


def test_a_batch_opened_anew_stands_where_it_was_left(session: Session, store: Store) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    session.undo()
    again = Session(store, store.batch(session.id))
    assert again.walker.situation() == session.walker.situation()
    assert again.events == session.events


def test_the_slower_of_two_windows_is_told_and_has_caught_up(session: Session, store: Store) -> None:
    go(session, BEFORE_FIRST_CUT)
    slower = Session(store, store.batch(session.id))
    go(session, 1)
    with pytest.raises(Stale):
        slower.complete(upcoming(slower))
    assert slower.walker.situation() == session.walker.situation()
    assert slower.events == session.events


def test_a_cut_that_both_windows_acknowledge_counts_once(session: Session, store: Store) -> None:
    go(session, BEFORE_FIRST_CUT)
    slower = Session(store, store.batch(session.id))
    cut = upcoming(session)
    session.complete(cut)
    with pytest.raises(Stale):
        slower.complete(cut)
    assert [event.kind for event in store.events(session.id)].count("cut") == 1
    assert store.batch(session.id).cuts_done == 1


def test_the_slower_window_goes_on_once_it_has_caught_up(session: Session, store: Store) -> None:
    slower = Session(store, store.batch(session.id))
    go(session, 1)
    with pytest.raises(Stale):
        go(slower, 1)
    go(slower, 1)
    assert slower.walker.unprepared == [*first_topics(JOB)[2:], OVER]


def test_a_slow_undo_takes_nothing_back(session: Session, store: Store) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    slower = Session(store, store.batch(session.id))
    go(session, 1)
    with pytest.raises(Stale):
        slower.undo()
    assert len(slower.walker.done) == 2
    assert len(list(store.events(session.id))) == len(session.events)


def test_catching_up_says_how_much_was_new(session: Session, store: Store) -> None:
    other = Session(store, store.batch(session.id))
    go(session, 3)
    assert (other.catch_up(), other.catch_up()) == (3, 0)


def test_the_job_of_a_batch_opened_anew_is_the_one_that_it_was_started_with(session: Session, store: Store) -> None:
    assert Session(store, store.batch(session.id)).job == JOB


def test_equal_layouts_are_known_again(session: Session) -> None:
    assert same_layouts(session, JOB.layouts)


def test_other_layouts_are_told_apart(session: Session) -> None:
    assert not same_layouts(session, two_tails(boards=3).layouts)


def test_a_name_that_is_taken_is_refused(session: Session, store: Store) -> None:
    with pytest.raises(CoachError, match="drawers"):
        start(store, "drawers", JOB, SETTINGS, "mm")


def test_a_batch_is_named_without_the_blanks_around_it(store: Store) -> None:
    assert start(store, "  drawers ", JOB, SETTINGS, "mm").name == "drawers"


def test_an_unfinished_batch_is_found_by_its_name(session: Session, store: Store) -> None:
    row, called = unfinished_batch(store, "drawers")
    assert row is not None
    assert (row.id, called) == (session.id, "drawers")


def test_after_a_finished_batch_the_next_of_its_name_gets_a_number(session: Session, store: Store) -> None:
    go(session, ALL_STEPS)
    assert unfinished_batch(store, "drawers") == (None, "drawers 2")
