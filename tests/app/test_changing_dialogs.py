"""The dialogs about a change: what is seen in small windows, what goes back, and keys that must not count."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.app_screens import opened
from support.changing_dialogs import NOTHING, WRONG, answer, back, choose, menu, three_boards
from support.small_batches import upcoming
from textual.widgets import Input

from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.tui.dialogs.asking import Ask, Choose

PATHS = [
    (),
    (WRONG,),
    (WRONG, "09:30:00  side 1, end A, tail 2"),
    (WRONG, "09:30:00  side 1, end A, tail 2", "Off the line, into"),
    (WRONG, "09:30:00  side 1, end A, tail 2", "On the wrong side"),
    ("A board is spoiled",),
    ("A board is spoiled", "side 1, the board in hand"),
    ("Another name for side 1",),
    ("Skip side 1",),
    ("Put side 1 aside",),
    ("Finish side 1 first",),
    ("Another setting first",),
    ("Another setting first", "setting 2"),
    ("A board is spoiled", "another board"),
    ("A board is spoiled", "another board", "side 2"),
    ("Add a board",),
    ("Add a board", "side"),
    ("Leave a board out",),
    ("Leave a board out", "side 2"),
    ("Another blade",),
]


@pytest.fixture
def session(store: Store) -> Session:
    return three_boards(store)


@pytest.mark.parametrize("size", [(40, 15), (60, 20)])
@pytest.mark.parametrize("path", PATHS)
async def test_in_a_small_window_question_and_choices_are_seen(
    store: Store, session: Session, size: tuple[int, int], path: tuple[str, ...]
) -> None:
    async with opened(store, session, size=size) as shown:
        await menu(shown, *path)
        await shown.until(lambda: isinstance(shown.screen, (Choose, Ask)), "a dialog")
        screen = shown.screen
        assert isinstance(screen, (Choose, Ask))
        await shown.until_shown(screen.question)
        await shown.until_shown("take it")
        if isinstance(screen, Choose):
            for choice in screen.choices:
                await shown.until_shown(choice)
                await shown.pilot.press("down")
            assert shown.shows(screen.question)


@pytest.mark.parametrize("size", [(40, 15), (60, 20)])
async def test_in_a_small_window_all_that_is_told_can_be_read(
    store: Store, session: Session, size: tuple[int, int]
) -> None:
    async with opened(store, session, size=size) as shown:
        await menu(shown, WRONG, "09:30:00  side 1, end A, tail 2, top", "Off the line, into the tail")
        await answer(shown, "0.5 mm")
        await shown.until_shown("The board can serve all the same.")
        assert shown.shows("tail 2: 21 mm wide")
        assert shown.shows("No, the board is spoiled")
        await shown.pilot.press("pagedown")
        await shown.until_shown("with the others won't fit it.")


@pytest.mark.parametrize("size", [(40, 15), (60, 20)])
async def test_in_a_small_window_a_long_list_of_errors_can_be_read(
    store: Store, session: Session, home: Path, size: tuple[int, int]
) -> None:
    (home / "new.toml").write_text("format = 2\n[saw]\nkerf = 1.1\nfast = true\n")
    async with opened(store, session, size=size) as shown:
        await menu(shown, "Another blade, jig or fence")
        await answer(shown, "~/new.toml")
        await shown.until_shown("new.toml")
        told = shown.screen.query_one(".told")
        for _ in range(20):
            await shown.pilot.press("pagedown")
        assert told.scroll_y == told.max_scroll_y
        await shown.until_shown("least one [[jigs]] table")


@pytest.mark.parametrize("size", [(40, 15), (60, 20), (80, 24)])
async def test_what_came_of_a_change_never_covers_what_is_to_be_done(
    store: Store, session: Session, size: tuple[int, int]
) -> None:
    async with opened(store, session, size=size) as shown:
        await menu(shown, WRONG, "09:30:00  side 1, end A, tail 2, top", "Off the line, into the tail")
        await answer(shown, "0.5 mm")
        await choose(shown, "Yes, so it is")
        await shown.until(lambda: session.events[-1].kind == "mend", "the change")
        await shown.until_shown("side 1, end A, tail 2, top side:")
        await shown.until_shown("tail 2: 21 mm wide at the end instead of 21.5 mm")
        if isinstance(shown.screen, Choose):
            await choose(shown, "Go on")
        await back(shown, "End B leads, BOTTOM edge at the jig, OUTSIDE face up.", "Mark 30.5 mm from the bottom edge")


@pytest.mark.parametrize("path", PATHS)
async def test_escape_changes_nothing_at_each_dialog(store: Store, session: Session, path: tuple[str, ...]) -> None:
    events, step = len(session.events), upcoming(session)
    async with opened(store, session) as shown:
        await menu(shown, *path)
        await shown.until(lambda: isinstance(shown.screen, (Choose, Ask)), "a dialog")
        await shown.pilot.press("escape")
        await back(shown, NOTHING)
    assert len(session.events) == events
    assert upcoming(session) == step


async def test_no_leaves_it_as_it_was(store: Store, session: Session) -> None:
    events = len(session.events)
    async with opened(store, session) as shown:
        await menu(shown, "Skip side 1", "No, leave it as it was")
        await back(shown, NOTHING)
    assert len(session.events) == events


async def test_keys_typed_into_a_dialog_complete_no_step(store: Store, session: Session) -> None:
    events = len(session.events)
    async with opened(store, session) as shown:
        await menu(shown, "A board is spoiled", "side 1, the board in hand")
        await shown.until_on(Ask)
        for key in ("space", "right", "pagedown", "u", "backspace", "m", "c", "l", "q", "question_mark"):
            shown.seconds.passed += 1
            await shown.pilot.press(key)
        assert isinstance(shown.screen, Ask)
        assert shown.screen.query_one(Input).value == " mclq?"
        await shown.pilot.press("escape")
        await back(shown, NOTHING)
    assert len(session.events) == events


@pytest.mark.parametrize("key", ["enter", "space", "pagedown", "u"])
async def test_keys_in_a_list_complete_no_step(store: Store, session: Session, key: str) -> None:
    events = len(session.events)
    async with opened(store, session) as shown:
        await shown.press("c")
        await shown.until_on(Choose)
        shown.seconds.passed += 1
        await shown.pilot.press(key)
        await shown.pilot.pause()
        assert isinstance(shown.screen, Choose)
    assert len(session.events) == events


@pytest.mark.parametrize("key", ["enter", "space", "right", "pagedown", "u"])
async def test_right_after_a_dialog_closes_no_key_counts(store: Store, session: Session, key: str) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "Skip side 1")
        await shown.until_shown("Shall it be so?")
        shown.seconds.passed += 1
        await shown.pilot.press("enter", key)
        await back(shown)
        await shown.until(lambda: session.events[-1].kind == "skip", "the change")
        await shown.pilot.press(key)
        await shown.pilot.pause()
    assert session.events[-1].kind == "skip"


async def test_a_key_held_down_stops_at_the_first_question(store: Store, session: Session) -> None:
    done = len(session.events)
    async with opened(store, session) as shown:
        await menu(shown)
        await shown.until_on(Choose)
        question = shown.screen
        for _ in range(30):
            shown.seconds.passed += 0.03  # as quick as a keyboard repeats
            await shown.pilot.press("enter")
        assert shown.screen is question
        assert len(session.events) == done
