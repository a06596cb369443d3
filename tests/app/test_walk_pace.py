"""The walk at the pace of a step, a board or a setting: what a key completes, what it asks, and the time left."""

from __future__ import annotations

from datetime import timedelta

import pytest
from support.app_screens import Shown, opened
from support.small_batches import BEFORE_FIRST_CUT, Clock, go, upcoming
from support.small_jobs import two_tails

from coach.ground.errors import CoachError
from coach.plan.deciding.decide import decide
from coach.plan.steps import StepKind
from coach.preferences import recall, remember
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.record.rows import Event
from coach.talk.pace import PACE_WORDS, Pace

ASKS = "24 cuts on 6 boards: really all cut?"


@pytest.fixture
def many(store: Store) -> Session:
    """Six boards: 24 cuts at each of two settings; ready for the first cut."""
    job = two_tails(boards=6)
    session = start(store, "many", job, decide(job), "mm")
    go(session, BEFORE_FIRST_CUT)
    return session


@pytest.fixture
def few(session: Session) -> Session:
    """Two boards: 8 cuts at each of two settings; ready for the first cut."""
    go(session, BEFORE_FIRST_CUT)
    return session


@pytest.fixture
def at_pace() -> None:
    """The pace of a setting, as remembered from an earlier run."""
    remember(pace=Pace.SETTING)


async def press(shown: Shown, clock: Clock, *keys: str) -> None:
    """Presses keys a while after each other, as the record sees them too."""
    for key in keys:
        clock.time += timedelta(seconds=30)
        await shown.press(key)


async def test_p_goes_through_the_paces_and_says_what_each_is(store: Store, few: Session) -> None:
    async with opened(store, few) as shown:
        for pace in (Pace.BOARD, Pace.SETTING, Pace.STEP):
            await shown.press("p")
            await shown.until_shown(PACE_WORDS[pace])
            assert recall().pace == pace
        assert not few.walker.done


async def test_the_pace_is_remembered(store: Store, few: Session) -> None:
    async with opened(store, few) as shown:
        await shown.press("p")
    async with opened(store, few) as shown:
        assert shown.app.context.pace is Pace.BOARD
        await shown.press("space")
        assert len(few.walker.done) == 4


async def test_at_a_boards_pace_a_key_completes_the_board_in_hand(store: Store, few: Session, clock: Clock) -> None:
    async with opened(store, few, clock=clock) as shown:
        await press(shown, clock, "p", "space")
        await shown.until_shown("Recorded: 4 cuts on 1 board.")
        assert len({side.board for side in few.walker.done}) == 1
        assert len(list(store.events(few.id))) == 2 + BEFORE_FIRST_CUT + 4
        await press(shown, clock, "space")
        assert upcoming(few).kind is StepKind.SET_FENCE
        await press(shown, clock, "space")
        assert upcoming(few).kind is StepKind.CUT


async def test_the_pace_changes_in_the_middle_of_a_board(store: Store, few: Session, clock: Clock) -> None:
    async with opened(store, few, clock=clock) as shown:
        await press(shown, clock, "space", "p", "space")
        assert len(few.walker.done) == 4
        await press(shown, clock, "p", "p", "space")
        assert len(few.walker.done) == 5


@pytest.mark.usefixtures("at_pace")
async def test_at_a_settings_pace_few_boards_are_completed_without_a_question(
    store: Store, few: Session, clock: Clock
) -> None:
    async with opened(store, few, clock=clock) as shown:
        await press(shown, clock, "space")
        assert len(few.walker.done) == 8


@pytest.mark.usefixtures("at_pace")
async def test_many_boards_are_asked_for_and_a_second_press_confirms(store: Store, many: Session, clock: Clock) -> None:
    async with opened(store, many, clock=clock) as shown:
        await press(shown, clock, "space")
        await shown.until_shown(ASKS)
        assert not many.walker.done
        await press(shown, clock, "space")
        assert len(many.walker.done) == 24
        assert upcoming(many).kind is StepKind.SET_FENCE


@pytest.mark.usefixtures("at_pace")
async def test_a_second_press_that_comes_at_once_or_too_late_confirms_nothing(
    store: Store, many: Session, clock: Clock
) -> None:
    async with opened(store, many, clock=clock) as shown:
        await press(shown, clock, "space")
        await shown.until_ready()
        shown.seconds.passed -= 0.5  # half of what a key that does much has to wait
        await shown.pilot.press("space")
        await shown.until_shown(ASKS)
        assert not many.walker.done
        shown.seconds.passed += 11
        await shown.pilot.press("space")
        await shown.until_shown(ASKS)
        assert not many.walker.done
        await press(shown, clock, "space")
        assert len(many.walker.done) == 24


@pytest.mark.usefixtures("at_pace")
@pytest.mark.parametrize("key", ["x", "m", "u"])
async def test_another_key_between_the_two_takes_the_question_back(
    store: Store, many: Session, clock: Clock, key: str
) -> None:
    go(many, 1)
    async with opened(store, many, clock=clock) as shown:
        await press(shown, clock, "space", key)
        shown.seconds.passed += 1
        await press(shown, clock, "space")
        await shown.until_shown("really all cut?")
        assert len(many.walker.done) <= 1


@pytest.mark.usefixtures("at_pace")
async def test_a_key_that_does_much_has_to_wait_for_twice_as_long(store: Store, few: Session) -> None:
    async with opened(store, few) as shown:
        await shown.until_ready()
        shown.seconds.passed -= 0.25
        await shown.pilot.press("space")
        await shown.until_shown("The step has just come up")
        assert not few.walker.done


async def test_undo_takes_back_what_the_last_key_completed_and_says_how_much(
    store: Store, few: Session, clock: Clock
) -> None:
    async with opened(store, few, clock=clock) as shown:
        await press(shown, clock, "p", "space", "space", "u")
        await shown.until_shown("Taken back: 4 cuts on 1 board, all that the last key had completed.")
        assert len(few.walker.done) == 4


async def test_at_a_steps_pace_undo_takes_back_one_of_them(store: Store, few: Session, clock: Clock) -> None:
    async with opened(store, few, clock=clock) as shown:
        await press(shown, clock, "p", "space", "p", "p", "u")
        assert len(few.walker.done) == 3


@pytest.mark.usefixtures("at_pace")
async def test_a_stretch_that_cannot_be_recorded_says_so_and_stays(
    store: Store, few: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(*_: object) -> list[Event]:
        raise CoachError("coach.db: the disk is full")

    async with opened(store, few) as shown:
        monkeypatch.setattr(store, "append", refuses)
        await shown.press("space")
        await shown.until_shown("Not recorded: coach.db: the disk is full")
        assert not few.walker.done
        monkeypatch.undo()
        await shown.press("space")
        assert len(few.walker.done) == 8


@pytest.mark.usefixtures("at_pace")
async def test_of_two_windows_the_slower_counts_no_stretch(store: Store, few: Session) -> None:
    other = Session(store, store.batch(few.id))
    async with opened(store, few) as shown:
        await shown.until_ready()
        go(other, 2)
        await shown.pilot.press("space")
        await shown.until_shown("Another window was quicker")
        assert len(few.walker.done) == 2


@pytest.mark.usefixtures("at_pace")
async def test_the_time_that_many_cuts_take_is_no_break(store: Store, many: Session, clock: Clock) -> None:
    async with opened(store, many, clock=clock) as shown:
        await shown.until_ready()
        clock.time += timedelta(minutes=40)
        await shown.pilot.press("space")
        await shown.until_shown(ASKS)
        await shown.press("space")
        assert len(many.walker.done) == 24


async def test_the_time_left_stands_on_the_screen_from_the_tenth_cut_on(
    store: Store, many: Session, clock: Clock
) -> None:
    async with opened(store, many, size=(80, 40), clock=clock) as shown:
        await press(shown, clock, *["space"] * 9)
        assert not shown.shows("left at your pace")
        await press(shown, clock, "space")
        await shown.until_shown("about 20 min left at your pace")
