"""Changing boards and their order from the walk: spoiled, skipped, put aside, added, left out, labelled anew."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.app_screens import opened
from support.changing_dialogs import NOTHING, WRONG, answer, back, choose, menu, three_boards
from support.small_batches import BEFORE_FIRST_CUT, Clock, Ticking, go, go_to, upcoming
from support.small_jobs import job, joint, part, two_tails
from textual.widgets import Input

from coach.ground.terms import Edge, End, Side
from coach.plan.deciding.decide import decide
from coach.plan.steps import StepKind
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.tui.dialogs.asking import Ask


@pytest.fixture
def session(store: Store) -> Session:
    return three_boards(store)


async def test_a_spoiled_board_gives_its_place_to_a_spare_and_the_totals_are_those_of_what_is_left(
    store: Store, session: Session
) -> None:
    async with opened(store, session) as shown:
        assert shown.shows("3 of 24 cuts done")
        await menu(shown, "A board is spoiled", "side 1, the board in hand")
        await answer(shown, "a knot fell out")
        await shown.until_shown("side 3 takes the place of side 1; it has 8 cuts left.")
        assert session.walker.out == set()
        await choose(shown, "Yes")
        await back(shown, "side 3 takes the place of side 1", "0 of 16 cuts done", "side 2: end A")
    assert session.walker.out == {1}
    assert [event.data["reason"] for event in session.events if event.kind == "spoil"] == ["a knot fell out"]
    row = store.batch(session.id)
    assert (row.cuts_done, row.cuts) == (0, 16)


async def test_without_a_spare_the_batch_is_one_board_short_and_says_so(store: Store) -> None:
    boards = two_tails(boards=2)
    session = start(store, "short", boards, decide(boards), "mm")
    go(session, BEFORE_FIRST_CUT + 1)
    async with opened(store, session) as shown:
        await menu(shown, "A board is spoiled", "side 1, the board in hand")
        await answer(shown, "split")
        await shown.until_shown("No spare is left for side 1: the batch is one board short.")
        await choose(shown, "Yes")
        await back(shown, "Add a board to make it up.")


async def test_a_reason_has_to_be_given(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "A board is spoiled", "side 1, the board in hand")
        await shown.until_on(Ask)
        await shown.pilot.press("enter")
        await shown.until_shown("the reason")
        assert isinstance(shown.screen, Ask)


async def test_the_board_that_was_cut_last_can_be_spoiled_though_another_is_in_hand(
    store: Store, session: Session
) -> None:
    go(session, 1)
    assert upcoming(session).side == Side(2, End.A, 2, Edge.TOP)
    async with opened(store, session) as shown:
        await menu(shown, "A board is spoiled", "side 1, the board cut last")
        await answer(shown, "split")
        await choose(shown, "Yes")
        await back(shown, "side 3 takes the place of side 1")
    assert session.walker.out == {1}


async def test_another_board_can_be_spoiled(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "A board is spoiled", "another board", "side 2")
        await answer(shown, "dropped")
        await choose(shown, "Yes")
        await back(shown, "side 3 takes the place of side 2")
    assert session.walker.out == {2}


async def test_a_skipped_board_comes_last_at_this_setting(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "Skip side 1")
        await shown.until_shown("Shall it be so?")
        await choose(shown, "Yes")
        await back(shown, "CUT side 2")
    assert session.walker.situation().order[-1] == 1


async def test_a_board_put_aside_waits_until_it_is_taken_up(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "Put side 1 aside", "Yes")
        await back(shown, "CUT side 2")
        assert session.walker.aside == {1}
        await menu(shown, "Take up one", "side 1", "Yes")
        await back(shown)
        await shown.until(lambda: not session.walker.aside, "no board aside")


async def test_a_board_finished_first_is_told_what_it_costs(store: Store, session: Session) -> None:
    go(session, 1)
    async with opened(store, session) as shown:
        await menu(shown, "Finish side 2 first")
        await shown.until_shown("That makes 1 more fence setting")
        await choose(shown, "Yes")
        await back(shown, "CUT side 2", "That makes 1 more fence setting")
        while upcoming(session).side is None or upcoming(session).side.board == 2:  # type: ignore[union-attr]
            go(session, 1)
    assert session.walker.board_cuts_left(2) == 0


async def test_another_setting_first_names_each_with_its_reading_and_what_is_left(
    store: Store, session: Session
) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "Another setting first")
        await shown.until_shown("setting 1: 109.36 mm, 9 cuts left")
        await choose(shown, "setting 2", "Yes")
        await back(shown, "Set the fence to")
    assert upcoming(session).setting == 1


async def test_an_added_board_is_told_by_its_label_and_cost(store: Store, session: Session) -> None:
    go_to(session, StepKind.SET_FENCE)
    go(session, 2)
    async with opened(store, session) as shown:
        await menu(shown, "Add a board", "side")
        await shown.until_shown("Added: side 4.")
        await shown.until_shown("1 more fence setting")
        await choose(shown, "Yes")
        await back(shown, "Added: side 4.", "That makes 1 more fence setting")
    assert [(board.label, board.spare) for board in session.job.boards[3:]] == [("side 4", False)]


async def test_a_board_is_added_as_a_spare(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "Add a board", "side, as a spare", "Yes")
        await back(shown, "Added: side 4.")
    assert [(board.label, board.spare) for board in session.job.boards[3:]] == [("side 4", True)]


async def test_a_board_left_out_is_out_and_no_spare_takes_its_place(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "Leave a board out", "side 2", "Yes")
        await back(shown, "side 2 is out of the batch.", "3 of 16 cuts done")
    assert session.walker.out == {2}
    assert session.job.board(3).spare


@pytest.mark.parametrize("text", ["left [1]", "[b]x[/]", "[/]", "$error", "横木"])
async def test_another_label_is_shown_as_it_was_written(store: Store, session: Session, text: str) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "Another name for side 1")
        await answer(shown, text)
        await back(shown, f"side 1 is called {text} from now on.", f"CUT {text}: end B")
        await shown.press("c")
        await shown.until_shown(f"Another name for {text}")
        await choose(shown, WRONG)
        await shown.until_shown(f"{text}, end A, tail 2, top side")
        await shown.pilot.press("escape")
        await back(shown, NOTHING)
        await menu(shown, "A board is spoiled", f"{text}, the board in hand")
        await shown.until_shown(f"{text} is spoiled. Why?")
    assert session.job.board(1).label == text


@pytest.mark.parametrize(
    ("text", "why"),
    [("side 2", "another board is called “side 2” already"), ("", "the label"), ("x" * 61, "the label")],
)
async def test_a_label_that_can_not_be_is_refused_in_the_dialog(
    store: Store, session: Session, text: str, why: str
) -> None:
    events = len(session.events)
    async with opened(store, session) as shown:
        await menu(shown, "Another name for side 1")
        await shown.until_on(Ask)
        shown.screen.query_one(Input).value = text
        await shown.pilot.press("enter")
        await shown.until_shown(why)
        assert isinstance(shown.screen, Ask)
        await shown.pilot.press("escape")
        await back(shown, NOTHING)
    assert len(session.events) == events


async def test_the_log_shows_which_boards_are_out_and_counts_only_the_others(store: Store, session: Session) -> None:
    from coach.record.batch import corrections
    from coach.tui.screens.log import LogScreen

    session.change(corrections.spoil(session, 1, "split").events)
    session.change(corrections.put_aside(session, 2).events)
    async with opened(store, session) as shown:
        await shown.press("l")
        await shown.until_on(LogScreen)
        await shown.until_shown("side 1 (spoiled)")
        assert shown.shows("side 2 (put aside)")
        assert shown.shows("0 of 2 boards all cut, 16 cuts left")


async def test_on_handed_boards_a_kind_to_add_says_its_hand(store: Store, clock: Clock) -> None:
    end = joint((5.0, 30.5))
    boards = job([part({End.A: end, End.B: end}, boards=2, handed=True)])
    session = start(store, "handed", boards, decide(boards), "mm")
    async with opened(store, session) as shown:
        await menu(shown, "Add a board")
        for kind in ("side (left)", "side (left), as a spare", "side (right)", "side (right), as a spare"):
            await shown.until_shown(kind)


async def test_undo_takes_a_change_back_that_was_the_last_thing_done(tmp_path: Path) -> None:
    clock = Ticking()
    with Store.open(tmp_path, clock=clock) as store:
        session = three_boards(store)
        async with opened(store, session, clock=clock) as shown:
            await menu(shown, "A board is spoiled", "side 1, the board in hand")
            await answer(shown, "a knot fell out")
            await shown.until_shown("side 3 takes the place of side 1; it has 8 cuts left.")
            await choose(shown, "Yes")
            await back(shown, "side 3 takes the place of side 1")
            await shown.press("u")
            await shown.until_shown("Taken back: side 1 isn't spoiled, side 3 is a spare again.")
        assert session.walker.out == set()
