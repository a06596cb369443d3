"""What one key completes at each pace, how the record holds it, and what undo takes back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pytest
from support.small_batches import BEFORE_FIRST_CUT, Clock, go, go_to, upcoming
from support.small_jobs import two_tails

from coach.ground.errors import CoachError
from coach.plan.deciding.decide import decide
from coach.plan.steps import Step, StepKind
from coach.plan.walking.situation import Situation
from coach.plan.walking.walker import Walker
from coach.record.batch import corrections
from coach.record.batch.events import fold, step_of
from coach.record.batch.session import Session, start
from coach.record.batch.taking_back import latest_key
from coach.record.disk.store import Store
from coach.record.rows import Event, Stale
from coach.talk.pace import PACES, Pace, amount, boards_in, stretch

BOARDS = 6
JOB = two_tails(boards=BOARDS)
SETTINGS = decide(JOB)


@pytest.fixture
def session(store: Store) -> Session:
    """Six boards of two tails: 48 cuts at two settings."""
    return start(store, "drawers", JOB, SETTINGS, "mm")


def press(session: Session, clock: Clock, pace: Pace) -> tuple[Step, ...]:
    """Completes what one key does at a pace, a while after the key before it."""
    clock.time += timedelta(seconds=20)
    steps = stretch(session.walker, pace)
    if len(steps) > 1:
        session.complete_cuts(steps)
    else:
        session.complete(steps[0])
    return steps


def cuts_until(session: Session, *, same_board: bool) -> list[Step]:
    """The cuts that follow one by one, up to another step or another board."""
    walker = Walker(session.walker.situation())
    first, found = walker.peek(), list[Step]()
    while (step := walker.peek()) is not None and step.kind is StepKind.CUT:
        assert first is not None and first.side is not None and step.side is not None
        if same_board and step.side.board != first.side.board:
            break
        found.append(step)
        walker.advance(step)
    return found


def logged(session: Session) -> list[tuple[str, object]]:
    """What the log holds, without the times, the batch's name, and which key wrote it."""
    return [
        (event.kind, {name: value for name, value in event.data.items() if name not in ("key", "name")})
        for event in session.events
    ]


def state(walker: Walker) -> Situation:
    return replace(walker.situation())


def test_the_paces_are_gone_through_in_a_ring() -> None:
    assert [pace.following for pace in PACES] == [Pace.BOARD, Pace.SETTING, Pace.STEP]


@pytest.mark.parametrize("pace", PACES)
def test_anything_but_a_cut_is_one_step_at_every_pace(session: Session, pace: Pace) -> None:
    for _ in range(BEFORE_FIRST_CUT):
        assert stretch(session.walker, pace) == (session.next(),)
        go(session, 1)
    go_to(session, StepKind.CLEAR)
    assert stretch(session.walker, pace) == (session.next(),)


@pytest.mark.parametrize("pace", PACES)
def test_nothing_is_left_of_a_batch_that_is_done(session: Session, pace: Pace) -> None:
    while session.next() is not None:
        go(session, 1)
    assert stretch(session.walker, pace) == ()


@pytest.mark.parametrize("cut_before", [0, 1, 3])
def test_a_boards_stretch_is_what_follows_of_it_one_by_one(session: Session, cut_before: int) -> None:
    go(session, BEFORE_FIRST_CUT + cut_before)
    steps = stretch(session.walker, Pace.BOARD)
    assert list(steps) == cuts_until(session, same_board=True)
    assert len(steps) == 4 - cut_before
    assert boards_in(steps) == 1


@pytest.mark.parametrize("cut_before", [0, 1, 23])
def test_a_settings_stretch_is_every_cut_up_to_the_next_fence_move(session: Session, cut_before: int) -> None:
    go(session, BEFORE_FIRST_CUT + cut_before)
    steps = stretch(session.walker, Pace.SETTING)
    assert list(steps) == cuts_until(session, same_board=False)
    assert len(steps) == 24 - cut_before


@pytest.mark.parametrize("change", ["put_aside", "finish_first", "skip"])
@pytest.mark.parametrize("pace", [Pace.BOARD, Pace.SETTING])
def test_a_changed_order_is_followed_as_one_by_one(session: Session, change: str, pace: Pace) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    session.change(getattr(corrections, change)(session, 3).events)
    while session.next() is not None:
        steps = stretch(session.walker, pace)
        if steps[0].kind is StepKind.CUT:
            assert list(steps) == cuts_until(session, same_board=pace is Pace.BOARD)
        for step in steps:
            session.complete(step)


@pytest.mark.parametrize("pace", PACES)
def test_looking_ahead_changes_nothing(session: Session, pace: Pace) -> None:
    go(session, BEFORE_FIRST_CUT + 2)
    before = state(session.walker)
    stretch(session.walker, pace)
    assert state(session.walker) == before


def test_the_amount_is_told_in_cuts_and_boards(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)
    assert amount(stretch(session.walker, Pace.SETTING)) == "24 cuts on 6 boards"
    assert amount(stretch(session.walker, Pace.BOARD)) == "4 cuts on 1 board"


@pytest.mark.parametrize("pace", [Pace.BOARD, Pace.SETTING])
def test_the_log_of_a_batch_is_the_same_at_every_pace(store: Store, clock: Clock, pace: Pace) -> None:
    slow, quick = (start(store, name, JOB, SETTINGS, "mm") for name in ("slow", "quick"))
    while slow.next() is not None:
        press(slow, clock, Pace.STEP)
    while quick.next() is not None:
        press(quick, clock, pace)
    assert logged(quick) == logged(slow)
    assert replace(store.batch(quick.id), id=0, name="", started="", last="") == replace(
        store.batch(slow.id), id=0, name="", started="", last=""
    )


def test_a_stretch_moves_the_walk_to_where_its_events_fold(session: Session, clock: Clock) -> None:
    go(session, BEFORE_FIRST_CUT)
    press(session, clock, Pace.BOARD)
    assert state(session.walker) == state(fold(session.events))
    assert session.next() == fold(session.events).peek()


def test_of_a_stretch_that_cannot_be_written_nothing_counts(
    session: Session, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> list[Event]:
        raise CoachError("coach.db: the disk is full")

    go(session, BEFORE_FIRST_CUT)
    before, events = state(session.walker), len(session.events)
    monkeypatch.setattr(store, "append", full)
    with pytest.raises(CoachError, match="the disk is full"):
        session.complete_cuts(stretch(session.walker, Pace.SETTING))
    assert state(session.walker) == before
    assert len(session.events) == events == len(list(store.events(session.id)))


def test_of_a_stretch_in_the_slower_window_nothing_counts_and_it_catches_up(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)
    other = Session(store, store.batch(session.id))
    steps = stretch(session.walker, Pace.SETTING)
    go(other, 2)
    with pytest.raises(Stale):
        session.complete_cuts(steps)
    assert session.events == other.events
    assert len(session.walker.done) == 2


def taken_back(session: Session) -> tuple[Step, ...]:
    """The steps that the last key completed, the latest first, which are taken back now."""
    return tuple(step_of(event) for event in session.undo(whole=True))


def test_undo_takes_back_all_that_one_key_recorded_then_what_the_one_before_it_did(
    session: Session, clock: Clock
) -> None:
    go(session, BEFORE_FIRST_CUT)
    before = state(session.walker)
    first = press(session, clock, Pace.BOARD)
    between = state(session.walker)
    second = press(session, clock, Pace.BOARD)
    assert taken_back(session) == tuple(reversed(second))
    assert state(session.walker) == between
    assert taken_back(session) == tuple(reversed(first))
    assert state(session.walker) == before


def test_undo_takes_back_the_same_after_resuming(store: Store, session: Session, clock: Clock) -> None:
    go(session, BEFORE_FIRST_CUT)
    press(session, clock, Pace.STEP)
    steps = press(session, clock, Pace.SETTING)
    assert taken_back(Session(store, store.batch(session.id))) == tuple(reversed(steps))


def test_undo_of_a_key_that_recorded_one_cut_takes_back_one(session: Session, clock: Clock) -> None:
    go(session, BEFORE_FIRST_CUT)
    press(session, clock, Pace.STEP)
    step = press(session, clock, Pace.STEP)
    assert taken_back(session) == step


def test_undo_of_a_stretch_of_which_a_part_is_undone_takes_back_the_rest(session: Session, clock: Clock) -> None:
    go(session, BEFORE_FIRST_CUT)
    steps = press(session, clock, Pace.BOARD)
    session.undo()
    assert taken_back(session) == tuple(reversed(steps[:-1]))
    assert not session.walker.done


def test_undo_of_a_stretch_is_written_whole_or_not_at_all(
    session: Session, store: Store, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    go(session, BEFORE_FIRST_CUT)
    press(session, clock, Pace.BOARD)
    appended = list[int]()
    append = store.append

    def counted(batch: int, after: int, events: Sequence[object], *rest: object) -> list[Event]:
        appended.append(len(events))
        return append(batch, after, events, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(store, "append", counted)
    session.undo(whole=True)
    assert appended == [4]


def test_a_change_is_taken_back_before_the_cuts_that_came_before_it(session: Session, clock: Clock) -> None:
    go(session, BEFORE_FIRST_CUT)
    steps = press(session, clock, Pace.BOARD)
    session.change(corrections.put_aside(session, 1).events)
    assert [event.kind for event in session.undo(whole=True)] == ["aside"]
    assert taken_back(session) == tuple(reversed(steps))


def test_two_keys_within_one_millisecond_are_two(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)  # the clock of these tests stands
    first, second = upcoming(session), None
    session.complete(first)
    second = upcoming(session)
    session.complete(second)
    assert session.events[-1].at == session.events[-2].at
    assert taken_back(session) == (second,)
    assert taken_back(session) == (first,)


def test_cuts_of_an_older_record_that_bear_the_same_time_are_one_keys(session: Session, clock: Clock) -> None:
    go(session, BEFORE_FIRST_CUT)
    steps = press(session, clock, Pace.BOARD)
    old = [replace(event, data={k: v for k, v in event.data.items() if k != "key"}) for event in session.events]
    assert tuple(step_of(event) for event in latest_key(old, ())) == tuple(reversed(steps))


def test_with_nothing_to_take_back_undo_takes_back_nothing(session: Session) -> None:
    assert session.undo(whole=True) == ()


@pytest.mark.parametrize(("minutes", "doubted"), [(47, False), (49, True)])
def test_many_cuts_may_take_longer_than_a_break(session: Session, clock: Clock, minutes: int, *, doubted: bool) -> None:
    go(session, BEFORE_FIRST_CUT)
    assert upcoming(session).kind is StepKind.CUT
    clock.time += timedelta(minutes=minutes)
    assert session.come_back(clock(), stayed=True, cuts=24) is doubted
