"""Correcting a cut, from the walk and from its log: what is told before it is recorded, and what is refused."""

from __future__ import annotations

import pytest
from support.app_screens import opened
from support.changing_dialogs import WRONG, answer, back, choose, kinds, menu, three_boards
from support.small_batches import go, go_to, upcoming

from coach.ground.terms import Edge, End, Side
from coach.plan.steps import StepKind
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.tui.dialogs.asking import Choose


@pytest.fixture
def session(store: Store) -> Session:
    return three_boards(store)


async def test_a_cut_that_was_not_made_is_asked_for_again(store: Store, session: Session) -> None:
    side = Side(1, End.A, 1, Edge.BOTTOM)
    assert side in session.walker.done
    async with opened(store, session) as shown:
        await menu(shown, WRONG, "09:30:00  side 1, end A, tail 1, bottom", "It wasn't really cut")
        await back(shown, "Taken back, and asked for again: side 1, end A, tail 1, bottom side.")
    assert side not in session.walker.done
    assert [event.number for event in session.events if event.data.get("reason")] == [len(session.events)]


async def test_off_the_line_into_the_tail_says_what_it_becomes_and_the_board_is_mended(
    store: Store, session: Session
) -> None:
    async with opened(store, session) as shown:
        await menu(shown, WRONG, "09:30:00  side 1, end A, tail 2, top", "Off the line, into the tail")
        await answer(shown, "0.5 mm")
        await shown.until_shown("The board can serve all the same.")
        assert shown.shows("tail 2: 21 mm wide at the end instead of 21.5 mm")
        assert shown.shows("socket 2: 4.5 mm at the end instead of 4 mm")
        assert shown.shows("Mark its pins from this board: pins cut in one gang with the others won't fit it.")
        await choose(shown, "Yes, so it is")
        await back(shown, "socket 2: 4.5 mm at the end instead of 4 mm")
    assert session.job.pattern_of(1).ends[End.A].mark_mm(2, Edge.TOP) == pytest.approx(31.0)
    assert session.job.pattern_of(2).ends[End.A].mark_mm(2, Edge.TOP) == pytest.approx(30.5)


@pytest.mark.parametrize(
    ("way", "typed", "told"),
    [
        ("Off the line, out in the waste", "0.5 mm", "No tail is harmed: the cut is asked for again."),
        ("Off the line, into the tail", "0.1 mm", "Within tolerance: it stays as it is."),
        ("On the wrong side", None, "The board can serve all the same."),
        ("Too deep", "0.4 mm", "its tails stand proud by 0.4 mm and are planed flush"),
        ("Too deep", "1 mm", "The board is spoiled."),
        ("With the wrong edge at the jig", None, "It counts as another cut."),
        ("With the wrong end leading", None, "That is end A, tail 2, top side, which was cut already"),
    ],
)
async def test_each_way_of_going_wrong_is_told_first_and_recorded_only_then(
    store: Store, session: Session, way: str, typed: str | None, told: str
) -> None:
    events = len(session.events)
    async with opened(store, session) as shown:
        await menu(shown, WRONG, "09:30:00  side 1, end B, tail 2, top", way)
        if typed is not None:
            await answer(shown, typed)
        await shown.until_shown(told)
        assert len(session.events) == events
        await choose(shown, "Move this end's baseline in" if typed == "0.4 mm" else "Yes, so it is")
        await back(shown)
        await shown.until(lambda: len(session.events) > events, "an event")
    assert session.events[events].kind in {"wrong", "cut"}
    assert "wrong" in kinds(session, events)


async def test_an_end_cut_too_deep_is_cleared_to_a_baseline_of_its_own_and_its_step_says_so(
    store: Store, session: Session
) -> None:
    async with opened(store, session) as shown:
        await menu(shown, WRONG, "09:30:00  side 1, end A, tail 2, top", "Too deep")
        await answer(shown, "0.4 mm")
        await choose(shown, "Move this end's baseline in")
        await back(shown, "side 1, end A, tail 2, top side:", "its tails stand proud by 0.4 mm")
        go_to(session, StepKind.CLEAR)
        words = "Its baseline lies 0.4 mm further in than the others'"
        said = {}
        while (step := upcoming(session)).kind is StepKind.CLEAR:
            shown.walk.show()
            await shown.until_shown(f"CLEAR THE WASTE side {step.board}")
            await shown.until_shown(f", end {step.end}")
            said[step.board, step.end] = shown.shows(words)
            go(session, 1)
    assert [corner for corner, shows in said.items() if shows] == [(1, End.A)]


async def test_a_cut_with_the_wrong_edge_at_the_jig_counts_as_the_one_that_was_to_come(
    store: Store, session: Session
) -> None:
    wrong, made = Side(1, End.B, 2, Edge.TOP), Side(1, End.B, 1, Edge.BOTTOM)
    async with opened(store, session) as shown:
        await menu(shown, WRONG, "09:30:00  side 1, end B, tail 2, top", "With the wrong edge")
        await choose(shown, "Yes")
        await back(shown, "That is end B, tail 1, bottom side, which was to come: it is done now.")
    assert wrong not in session.walker.done
    assert made in session.walker.done


async def test_a_person_may_say_that_the_board_is_spoiled_although_it_could_serve(
    store: Store, session: Session
) -> None:
    async with opened(store, session) as shown:
        await menu(shown, WRONG, "09:30:00  side 1, end A, tail 2, top", "Off the line, into the tail")
        await answer(shown, "0.5 mm")
        await choose(shown, "No, the board is spoiled")
        await back(shown, "side 3 takes the place of side 1; it has 8 cuts left.")
    assert session.walker.out == {1}
    assert [event.data["reason"] for event in session.events if event.kind == "spoil"] == ["off the line"]


async def test_a_cut_at_an_end_that_is_cleared_can_not_be_taken_back_and_the_walk_says_why(
    store: Store, session: Session
) -> None:
    clear = go_to(session, StepKind.CLEAR)
    go(session, 1)
    events = len(session.events)
    label = session.job.board(clear.board or 0).label
    async with opened(store, session) as shown:
        await menu(shown, WRONG, f"09:30:00  {label}, end {clear.end}", "It wasn't really cut")
        await back(shown, "Not recorded:", "seat a tail length too deep")
        assert shown.shows("CLEAR THE WASTE"), shown.text()
    assert len(session.events) == events


async def test_the_log_corrects_the_board_that_is_looked_at_and_stays_there(store: Store, session: Session) -> None:
    from coach.tui.screens.log import LogScreen

    go(session, 3)
    async with opened(store, session) as shown:
        await shown.press("l")
        await shown.until_on(LogScreen)
        await shown.pilot.press("down", "enter")
        await choose(shown, "09:30:00  side 2, end A, tail 2, top", "It wasn't really cut")
        await shown.until_on(LogScreen)
        await shown.until_shown("Taken back, and asked for again: side 2, end A, tail 2, top side.")
        await shown.until_shown("(undone)")
        assert Side(2, End.A, 2, Edge.TOP) not in session.walker.done
        await shown.pilot.press("enter")
        await shown.until_on(Choose)
        assert all("side 2" in choice for choice in shown.screen.choices)  # type: ignore[attr-defined]


async def test_the_log_says_of_a_board_without_cuts_that_there_is_nothing_to_correct(
    store: Store, session: Session
) -> None:
    from coach.tui.screens.log import LogScreen

    async with opened(store, session) as shown:
        await shown.press("l")
        await shown.until_on(LogScreen)
        await shown.pilot.press("down", "enter")
        await shown.until_shown("No cut stands that could be corrected.")
