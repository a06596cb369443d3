"""The walk: its keys, what counts and what doesn't, and what it says when something is wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from support.app_screens import opened
from support.small_batches import ALL_STEPS, BEFORE_FIRST_CUT, JOB, SETTINGS, Clock, go, go_to, upcoming
from support.small_jobs import job, joint, part, two_tails

from coach.ground import places
from coach.ground.errors import CoachError
from coach.ground.terms import End
from coach.plan.deciding.decide import decide
from coach.plan.steps import Step, StepKind
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.record.rows import Event
from coach.telling.phrases import Saying
from coach.telling.steps.step import briefly, tell
from coach.tui.screens.help import HelpScreen
from coach.tui.screens.log import LogScreen
from coach.tui.walk.screen import WalkScreen

MM = Saying("mm", None)
EARLY = "The step has just come up"
NOT_COUNTED = "That key wasn't counted"


def headline(session: Session) -> str:
    """What the step to do now is headed with."""
    told = tell(session.walker, upcoming(session), MM)
    return f"{told.kind.upper()} {told.headline}"


def refuses(*_: object) -> list[Event]:
    raise CoachError("coach.db: the disk is full")


async def test_the_step_on_the_screen_is_the_sessions_next_at_every_step(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        for step in range(ALL_STEPS):
            await shown.until_shown(headline(session))
            await shown.press("space")
            assert len(session.events) == step + 3
        await shown.until_shown("The batch is done.")


@pytest.mark.parametrize("key", ["space", "enter", "right", "pagedown"])
async def test_each_of_the_four_keys_completes_a_step(store: Store, session: Session, key: str) -> None:
    first = upcoming(session)
    async with opened(store, session) as shown:
        await shown.press(key)
        assert session.last_step() == first
        await shown.until_shown(headline(session))


async def test_no_other_key_completes_one(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        for key in ("left", "pageup", "x", "d", "tab", "escape", "down", "home"):
            await shown.press(key)
        assert session.last_step() is None


async def test_a_key_is_on_disk_before_the_screen_moves_on(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await shown.press("space")
        await shown.until_shown(headline(session))
        assert [event.number for event in store.events(session.id)] == [1, 2, 3]


@pytest.mark.parametrize("key", ["u", "backspace"])
async def test_undo_takes_back_the_latest_step_and_then_the_one_before_it(
    store: Store, session: Session, key: str
) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    second = upcoming(session)
    go(session, 1)
    async with opened(store, session) as shown:
        await shown.press(key)
        await shown.until_shown(headline(session))
        assert upcoming(session) == second
        assert shown.shows(f"Taken back: {briefly(session.walker, second, MM)}.")
        await shown.press(key)
        assert upcoming(session).kind is StepKind.CUT
        assert not session.walker.done
        await shown.press(key)
        assert upcoming(session).kind is StepKind.CHECK


async def test_undo_at_the_very_beginning_says_that_there_is_nothing_to_take_back(
    store: Store, session: Session
) -> None:
    async with opened(store, session) as shown:
        await shown.press("u")
        await shown.until_shown("Nothing to take back.")
        assert len(session.events) == 2


async def test_undo_counts_only_once_the_screen_has_stood(store: Store, session: Session) -> None:
    go(session, 3)
    async with opened(store, session) as shown:
        await shown.pilot.press("u")
        await shown.until_shown("The screen has just changed")
        assert len(session.events) == 5


async def test_q_leaves_and_everything_is_saved(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await shown.press("space", "space")
        await shown.pilot.press("q")
        await shown.until(lambda: shown.app._exit, "the app's end")
        assert shown.app.context.left_batch is session
    assert len(list(store.events(session.id))) == 4


async def test_q_leaves_at_once_even_if_the_step_has_just_come_up(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await shown.pilot.press("q")
        await shown.until(lambda: shown.app._exit, "the app's end")


async def test_an_early_key_says_so_and_counts_nothing(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await shown.pilot.press("space")
        await shown.until_shown(EARLY)
        assert session.last_step() is None


async def test_a_held_key_completes_one_step(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await shown.until_ready()
        await shown.pilot.press(*["space"] * 20)
        assert len(session.events) == 3


async def test_keys_that_come_before_the_first_step_is_painted_count_nothing(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        shown.walk.guard.hidden()
        shown.seconds.passed += 1
        await shown.pilot.press("space")
        await shown.until_shown(EARLY)
        assert session.last_step() is None


@pytest.mark.parametrize(("key", "before"), [("space", 0), ("space", BEFORE_FIRST_CUT), ("u", 3)])
async def test_a_step_that_cannot_be_recorded_says_so_and_stays(
    store: Store, session: Session, monkeypatch: pytest.MonkeyPatch, key: str, before: int
) -> None:
    go(session, before)
    step = upcoming(session)
    async with opened(store, session) as shown:
        monkeypatch.setattr(store, "append", refuses)
        await shown.press(key)
        await shown.until_shown("Not recorded: coach.db: the disk is full")
        assert upcoming(session) == step
        assert shown.shows(headline(session))
        monkeypatch.undo()
        await shown.press("space")
        assert session.last_step() == step


async def test_a_break_that_cannot_be_recorded_says_so(
    store: Store, session: Session, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    go(session, BEFORE_FIRST_CUT)
    clock.time += timedelta(hours=1)
    monkeypatch.setattr(store, "append", refuses)
    async with opened(store, session, clock=clock) as shown:
        await shown.until_shown("Not recorded: coach.db: the disk is full")


async def test_of_two_windows_on_one_batch_the_slower_is_told_and_catches_up(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)
    other = Session(store, store.batch(session.id))
    async with opened(store, session) as shown:
        await shown.until_ready()
        go(other, 2)
        await shown.pilot.press("space")
        await shown.until_shown("Another window was quicker: this one has caught up, and nothing was counted twice.")
        assert session.walker.done == other.walker.done
        assert len(session.walker.done) == 2
        assert shown.shows(headline(session))


async def test_undo_in_the_slower_window_takes_nothing_back(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    other = Session(store, store.batch(session.id))
    async with opened(store, session) as shown:
        await shown.until_ready()
        go(other, 1)
        await shown.pilot.press("u")
        await shown.until_shown("Another window was quicker")
        assert len(session.walker.done) == 2


async def test_coming_back_after_eleven_minutes_asks_for_the_saw_the_fence_and_a_scrap_cut_then_for_the_same_cut(
    store: Store, session: Session, clock: Clock
) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    cut = upcoming(session)
    clock.time += timedelta(minutes=11)
    met: list[Step] = []
    async with opened(store, session, clock=clock) as shown:
        while upcoming(session) != cut:
            await shown.until_shown(headline(session))
            met.append(upcoming(session))
            await shown.press("space")
        await shown.until_shown(headline(session))
    assert [step.kind for step in met] == [StepKind.PREPARE, StepKind.SET_FENCE, StepKind.CHECK]
    assert met[0].topic == "again"


async def test_coming_back_after_nine_minutes_goes_on_with_the_cut(
    store: Store, session: Session, clock: Clock
) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    clock.time += timedelta(minutes=9)
    async with opened(store, session, clock=clock) as shown:
        await shown.press("space")
        assert len(session.walker.done) == 4


@pytest.mark.parametrize("key", ["space", "u", "m"])
@pytest.mark.parametrize(("hour", "away"), [(23, timedelta(minutes=5)), (9, timedelta(minutes=11))])
async def test_after_midnight_or_a_break_with_the_walk_open_a_key_is_not_counted(
    store: Store, clock: Clock, key: str, hour: int, away: timedelta
) -> None:
    clock.time = clock.time.replace(hour=hour, minute=58)
    session = start(store, "late", JOB, SETTINGS, "mm")
    go(session, BEFORE_FIRST_CUT + 3)
    cut = upcoming(session)
    async with opened(store, session, clock=clock) as shown:
        await shown.until_ready()
        clock.time += away
        await shown.pilot.press(key)
        await shown.until_shown(NOT_COUNTED)
        assert len(session.walker.done) == 3
        assert upcoming(session) == Step(StepKind.PREPARE, topic="again")
        shown.seconds.passed += 1
        await shown.press("space", "space", "space")
        assert upcoming(session) == cut


async def test_a_new_day_with_the_walk_left_open_is_backed_up_as_well(tmp_path: Path, clock: Clock) -> None:
    clock.time = clock.time.replace(hour=23, minute=58)
    with Store.open(tmp_path / "kept", clock=clock) as store:
        session = start(store, "late", JOB, SETTINGS, "mm")
        go(session, BEFORE_FIRST_CUT + 3)
        async with opened(store, session, clock=clock) as shown:
            backups = tmp_path / "kept" / "backups"
            await shown.until(lambda: backups.is_dir() and len(list(backups.glob("*.db"))) == 1, "the day's backup")
            await shown.until_ready()
            clock.time += timedelta(minutes=5)
            await shown.pilot.press("space")
            await shown.until_shown(NOT_COUNTED)
            assert len(list(backups.glob("*.db"))) == 2


async def test_a_long_step_at_the_bench_is_no_break(store: Store, session: Session, clock: Clock) -> None:
    clear = go_to(session, StepKind.CLEAR)
    async with opened(store, session, clock=clock) as shown:
        await shown.until_ready()
        clock.time += timedelta(hours=2)
        await shown.pilot.press("space")
        assert session.last_step() == clear


async def test_how_many_cuts_are_left_at_this_setting_stands_at_every_cut_until_the_batch_is_done(
    store: Store, session: Session
) -> None:
    met = []
    async with opened(store, session) as shown:
        while (step := session.next()) is not None:
            await shown.until_shown(headline(session))
            if step.setting is not None and step.kind is StepKind.CUT:
                left = session.walker.cuts_left(step.setting)
                met.append(left)
                words = "1 cut left, 1 board" if left == 1 else f"{left} cuts left, "
                assert shown.shows(f"Setting {step.setting + 1} of 2"), shown.text()
                assert shown.shows(words), shown.text()
            await shown.press("space")
        await shown.until_shown("The batch is done.")
    assert met == [*range(8, 0, -1)] * 2


async def test_a_setting_whose_cuts_are_done_is_called_a_good_place_to_stop(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 8)
    async with opened(store, session) as shown:
        assert upcoming(session).kind is StepKind.SET_FENCE
        await shown.until_shown("all cut: a good place to stop")


async def test_a_key_once_the_batch_is_done_says_what_can_be_done(store: Store, session: Session) -> None:
    go(session, ALL_STEPS)
    events = len(session.events)
    async with opened(store, session) as shown:
        await shown.press("space")
        await shown.until_shown("The batch is done: l shows its log, q leaves.")
        assert len(session.events) == events


async def test_the_latest_steps_stand_on_the_screen_with_their_times(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    done = session.last_step()
    async with opened(store, session, size=(80, 30)) as shown:
        await shown.until_shown(f"09:30:00 cut: {briefly(session.walker, done, MM)}")


async def test_what_comes_next_is_said_at_every_step(store: Store) -> None:
    one = two_tails(boards=1)
    session = start(store, "one", one, decide(one), "mm")
    steps = []
    async with opened(store, session, size=(80, 30)) as shown:
        while session.next() is not None:
            steps.append(briefly(session.walker, session.walker.preview(), MM))
            await shown.until_shown(f"Next: {steps[-1]}")
            await shown.press("space")
    assert steps[-1] == "the batch is done"


@pytest.mark.parametrize(("key", "screen"), [("l", LogScreen), ("question_mark", HelpScreen), ("f1", HelpScreen)])
async def test_log_and_help_open_over_the_walk_and_escape_goes_back(
    store: Store, session: Session, key: str, screen: type[LogScreen | HelpScreen]
) -> None:
    async with opened(store, session) as shown:
        await shown.pilot.press(key)
        await shown.until_on(screen)
        await shown.pilot.press("escape")
        await shown.until_on(WalkScreen)
        assert session.last_step() is None


async def test_the_key_that_closes_the_help_completes_no_step(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await shown.press("question_mark")
        await shown.until_on(HelpScreen)
        shown.seconds.passed += 1
        await shown.pilot.press("space")
        await shown.until_on(WalkScreen)
        await shown.pilot.press("space")
        await shown.until_shown(EARLY)
        assert session.last_step() is None


async def test_a_sample_shop_is_named_on_every_screen_with_where_ones_own_goes(store: Store, home: Path) -> None:
    sample = replace(JOB, shop=replace(JOB.shop, sample=True))
    session = start(store, "drawers", sample, SETTINGS, "mm")
    note = f"Sample shop in use, not yours: {places.where_a_shop_goes()}"
    async with opened(store, session, size=(80, 40)) as shown:
        await shown.until_shown(note)
        for key, screen in (("l", LogScreen), ("question_mark", HelpScreen)):
            await shown.pilot.press(key)
            await shown.until_on(screen)
            await shown.until_shown(note)
            await shown.pilot.press("escape")
            await shown.until_on(WalkScreen)
        go_to(session, StepKind.CUT)
        shown.walk.show()
        await shown.until_shown("Sample shop in use, not yours")


@pytest.mark.parametrize("label", ["[bold]x[/]", "[/]", "[@click=app.quit]x[/]", "$error", "\\[b]", "横木の側板"])
async def test_names_and_labels_are_shown_as_they_were_written(store: Store, label: str) -> None:
    end = joint((5.0, 30.5))
    boards = job([part({End.A: end, End.B: end}, label=label)])
    session = start(store, f"batch {label}", boards, decide(boards), "mm")
    async with opened(store, session) as shown:
        await shown.until_shown(f"batch {label}")
        go_to(session, StepKind.CUT)
        shown.walk.show()
        await shown.until_shown(f"CUT {label} 1: end A, tail 2, top side")
        go_to(session, StepKind.TRANSFER)
        shown.walk.show()
        await shown.until_shown(f"write “{label} 1 A” on both")


async def test_advice_is_shown_before_the_first_step(store: Store, session: Session) -> None:
    async with opened(store, session, advice=["side.toml: [b]thin[/] pins (a source)"]) as shown:
        await shown.until_shown("side.toml: [b]thin[/] pins (a source)")
        shown.seconds.passed += 1
        await shown.pilot.press("enter")
        await shown.until_on(WalkScreen)
        assert session.last_step() is None


async def test_a_backup_that_cannot_be_made_is_told_and_the_walk_goes_on(
    store: Store, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails() -> None:
        raise CoachError("the disk is full")

    monkeypatch.setattr(store, "backup_of_the_day", fails)
    async with opened(store, session) as shown:
        await shown.until_shown("No backup was made today: the disk is full")
        await shown.press("space")
        assert session.last_step() is not None


def readings(events: Sequence[Event]) -> list[Mapping[str, Any]]:
    """The data of the fence settings that were recorded."""
    return [event.data for event in events if event.kind == StepKind.SET_FENCE]


async def test_the_reading_that_was_shown_is_recorded(store: Store, session: Session) -> None:
    go_to(session, StepKind.SET_FENCE)
    async with opened(store, session) as shown:
        await shown.until_shown("Set the fence to 109.36 mm")
        await shown.press("space")
    (read,) = readings(session.events)
    assert (read["setting"], read["reading"]) == (0, "109.36 mm")
    assert read["fence_mm"] == pytest.approx(109.3645, abs=1e-4)
