"""How long the cuts that are left will take, by how fast the person has cut."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from support.small_batches import BEFORE_FIRST_CUT, Clock, go
from support.small_jobs import two_tails

from coach.plan.deciding.decide import decide
from coach.plan.steps import StepKind
from coach.record.batch.session import Session, start
from coach.record.batch.tempo import LEAST_CUTS, Tempo, left_words
from coach.record.disk.store import Store
from coach.talk.pace import Pace, stretch

JOB = two_tails(boards=12)
SETTINGS = decide(JOB)
CUTS = 96
FENCE_S = 60.0


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def session(tmp_path: Path, clock: Clock) -> Iterator[Session]:
    """Twelve boards: 96 cuts at two settings; ready for the first cut, the fence set in a minute."""
    with Store.open(tmp_path / "record", clock=clock) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        for _ in range(BEFORE_FIRST_CUT):
            clock.time += timedelta(seconds=FENCE_S)
            go(session, 1)
        yield session


def cut(session: Session, clock: Clock, *seconds: float) -> None:
    """One cut after each of so many seconds."""
    for each in seconds:
        clock.time += timedelta(seconds=each)
        go(session, 1)


def seconds_left(session: Session) -> float | None:
    tempo = Tempo()
    tempo.read(session.events)
    return tempo.seconds_left(session.walker)


def test_before_ten_cuts_nothing_is_said(session: Session, clock: Clock) -> None:
    cut(session, clock, *[20.0] * (LEAST_CUTS - 1))
    assert seconds_left(session) is None
    cut(session, clock, 20.0)
    assert seconds_left(session) is not None


def test_cuts_and_fence_moves_are_reckoned_by_what_each_has_taken(session: Session, clock: Clock) -> None:
    cut(session, clock, *[20.0] * 10)
    assert seconds_left(session) == pytest.approx((CUTS - 10) * 20.0 + FENCE_S)


def test_quick_and_slow_cuts_in_turn_are_reckoned_by_their_mean(session: Session, clock: Clock) -> None:
    cut(session, clock, *[10.0, 30.0] * 8)
    assert seconds_left(session) == pytest.approx((CUTS - 16) * 20.0 + FENCE_S)


def test_a_break_does_not_count(session: Session, clock: Clock) -> None:
    cut(session, clock, *[20.0] * 9, 601.0, 20.0)
    assert seconds_left(session) == pytest.approx((CUTS - 11) * 20.0 + FENCE_S)


def test_one_long_look_at_the_saw_counts_for_no_more_than_four_cuts(session: Session, clock: Clock) -> None:
    cut(session, clock, *[20.0] * 19, 580.0)
    assert seconds_left(session) == pytest.approx((CUTS - 20) * (19 * 20.0 + 80.0) / 20 + FENCE_S)


def test_a_clock_that_went_back_does_not_count(session: Session, clock: Clock) -> None:
    cut(session, clock, *[20.0] * 9, -300.0, 20.0)
    assert seconds_left(session) == pytest.approx((CUTS - 11) * 20.0 + FENCE_S)


def test_undone_cuts_do_not_count_and_the_time_they_took_belongs_to_the_cut_that_was_made(
    session: Session, clock: Clock
) -> None:
    cut(session, clock, *[20.0] * 9, 5.0)
    session.undo()
    assert seconds_left(session) is None
    cut(session, clock, 15.0)
    assert seconds_left(session) == pytest.approx((CUTS - 10) * 20.0 + FENCE_S)


def test_only_the_last_fifty_cuts_count(session: Session, clock: Clock) -> None:
    cut(session, clock, *[100.0] * 30)
    while len(session.walker.done) < 48:
        cut(session, clock, 20.0)
    cut(session, clock, FENCE_S, *[20.0] * 32)  # the fence, then as many cuts as make fifty
    assert seconds_left(session) == pytest.approx((CUTS - 80) * 20.0)


def test_cuts_recorded_with_one_key_share_the_time_since_the_key_before(session: Session, clock: Clock) -> None:
    for _ in range(4):
        clock.time += timedelta(minutes=2)
        session.complete_cuts(stretch(session.walker, Pace.BOARD))
    assert seconds_left(session) == pytest.approx((CUTS - 16) * 30.0 + FENCE_S)


def test_by_a_clock_that_stands_nothing_is_said(tmp_path: Path, clock: Clock) -> None:
    with Store.open(tmp_path / "standing", clock=clock) as store:
        session = start(store, "drawers", JOB, SETTINGS, "mm")
        go(session, BEFORE_FIRST_CUT + 20)
        assert seconds_left(session) is None


def test_nothing_is_said_once_all_is_cut(session: Session, clock: Clock) -> None:
    while (step := session.next()) is not None and step.kind is not StepKind.CLEAR:
        cut(session, clock, 20.0)
    assert seconds_left(session) is None


def test_read_as_the_events_come_it_says_the_same_as_read_at_once(session: Session, clock: Clock) -> None:
    tempo = Tempo()
    for number in range(70):
        cut(session, clock, 10.0 + number % 7)
        if number % 9 == 8:
            clock.time += timedelta(seconds=3)
            session.undo()
        tempo.read(session.events)
        assert tempo.seconds_left(session.walker) == seconds_left(session)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (None, ""),
        (5.0, "about 1 min left at your pace"),
        (100.0, "about 2 min left at your pace"),
        (9.4 * 60, "about 9 min left at your pace"),
        (26.0 * 60, "about 25 min left at your pace"),
        (59.0 * 60, "about 1 h left at your pace"),
        (80.0 * 60, "about 1 h 15 min left at your pace"),
        (299.0 * 60, "about 5 h left at your pace"),
        (500.0 * 60, "about 8 h left at your pace"),
    ],
)
def test_the_time_is_rounded_as_an_estimate_is(seconds: float | None, words: str) -> None:
    assert left_words(seconds) == words
