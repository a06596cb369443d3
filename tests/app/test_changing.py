"""Changing a batch from the walk: each choice of its menu, what is told before it is recorded, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.app_screens import Shown, opened
from support.small_batches import BEFORE_FIRST_CUT, Clock, go, go_to, upcoming
from support.small_jobs import job, joint, part, two_tails
from textual.widgets import Input

from coach.plan.settings import decide
from coach.plan.steps import StepKind
from coach.record.session import Session, start
from coach.record.store import Store
from coach.tui.dialogs import Ask, Choose
from coach.tui.walk import WalkScreen
from coach.words import Edge, End, Side

MENU = "What is to change?"
WRONG = "A cut wasn't made, or went wrong"
NOTHING = "Nothing was changed."
SHOP = """\
format = 1
[saw]
kerf = "1.1 mm"
column_side = "left"
throat = "345 mm"
backing_out = "stopped"
[[fences]]
side = "right"
min = "0 mm"
max = "300 mm"
front = "200 mm"
scale = "none"
zero = "0 mm"
[[jigs]]
name = "one in eight"
slope = "1:8"
leading_width = "80 mm"
leading_end = "wide"
length = "330 mm"
thickness = "8 mm"
"""


@pytest.fixture
def session(store: Store) -> Session:
    """Three boards of two tails, one a spare, with three cuts done on the first."""
    boards = two_tails(boards=2, spares=1, tolerance_mm=0.2)
    begun = start(store, "drawers", boards, decide(boards), "mm")
    go(begun, BEFORE_FIRST_CUT + 3)
    return begun


async def choose(shown: Shown, *choices: str) -> None:
    """Takes choices one after another, each by how it begins, in the dialogs that come up."""
    for choice in choices:
        await shown.until(lambda wanted=choice: place(shown, wanted) is not None, choice)  # type: ignore[misc]
        found = place(shown, choice)
        assert found is not None
        shown.seconds.passed += 1
        await shown.pilot.press(*["down"] * found, "enter")
        await shown.pilot.pause()


def place(shown: Shown, choice: str) -> int | None:
    """Where in the list on the screen a choice stands, by how it begins."""
    screen = shown.screen
    if not isinstance(screen, Choose) or not screen.is_mounted:
        return None
    return next((index for index, words in enumerate(screen.choices) if words.startswith(choice)), None)


async def menu(shown: Shown, *choices: str) -> None:
    """Opens the menu and takes `choices`."""
    await shown.press("c")
    await choose(shown, *choices)


async def answer(shown: Shown, text: str) -> None:
    """Types `text` instead of what stands in the field, and enter."""
    await shown.until_on(Ask)
    field = shown.screen.query_one(Input)
    field.value = ""
    await shown.paste(text)
    await shown.pilot.press("enter")


async def back(shown: Shown, *said: str) -> None:
    """Waits for the walk, which says so."""
    await shown.until_on(WalkScreen)
    for words in said:
        await shown.until_shown(words)


def kinds(session: Session, after: int) -> list[str]:
    """The kinds of the events after the first so many."""
    return [event.kind for event in session.events[after:]]


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
        await choose(shown, "Yes, so it is")
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
        await choose(shown, "Yes, so it is")
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


async def test_a_spoiled_board_gives_its_place_to_a_spare_and_the_totals_are_those_of_what_is_left(
    store: Store, session: Session
) -> None:
    async with opened(store, session) as shown:
        assert shown.shows("3 of 24 cuts done")
        await menu(shown, "side 1 is spoiled")
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
        await menu(shown, "side 1 is spoiled")
        await answer(shown, "split")
        await shown.until_shown("No spare is left for side 1: the batch is one board short.")
        await choose(shown, "Yes")
        await back(shown, "Add a board to make it up.")


async def test_a_reason_has_to_be_given(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "side 1 is spoiled")
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
        await menu(shown, "side 1, which was cut last, is spoiled")
        await answer(shown, "split")
        await choose(shown, "Yes")
        await back(shown, "side 3 takes the place of side 1")
    assert session.walker.out == {1}


async def test_another_board_can_be_spoiled(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await menu(shown, "Another board is spoiled", "side 2")
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
        await menu(shown, "Take up a board", "side 1", "Yes")
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
        await menu(shown, "side 1 gets another label")
        await answer(shown, text)
        await back(shown, f"side 1 is called {text} from now on.", f"CUT {text}: end B")
        await shown.press("c")
        await shown.until_shown(f"{text} is spoiled")
        await choose(shown, WRONG)
        await shown.until_shown(f"{text}, end A, tail 2, top side")
        await shown.pilot.press("escape")
        await back(shown, NOTHING)
        await menu(shown, f"{text} is spoiled")
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
        await menu(shown, "side 1 gets another label")
        await shown.until_on(Ask)
        shown.screen.query_one(Input).value = text
        await shown.pilot.press("enter")
        await shown.until_shown(why)
        assert isinstance(shown.screen, Ask)
        await shown.pilot.press("escape")
        await back(shown, NOTHING)
    assert len(session.events) == events


async def test_another_blade_is_taken_from_a_shop_file(store: Store, session: Session, home: Path) -> None:
    (home / "new.toml").write_text(SHOP)
    async with opened(store, session) as shown:
        await menu(shown, "The blade, jig, fence or scale")
        await answer(shown, "~/new.toml")
        await shown.until_shown("Settings that are begun keep their marks")
        await choose(shown, "Yes")
        await back(shown)
        await shown.until(lambda: session.job.shop.saw.kerf_mm == pytest.approx(1.1), "the new kerf")
    assert upcoming(session).kind is StepKind.PREPARE


@pytest.mark.parametrize(
    ("content", "why"),
    [(None, "new.toml"), ("format = 1\n[saw]\nkerf = 1.1\n", "needs a unit"), ("kerf", "new.toml")],
)
async def test_a_shop_file_that_can_not_be_read_is_refused_in_the_dialog(
    store: Store, session: Session, home: Path, content: str | None, why: str
) -> None:
    events = len(session.events)
    if content is not None:
        (home / "new.toml").write_text(content)
    async with opened(store, session) as shown:
        await menu(shown, "The blade, jig, fence or scale")
        await answer(shown, "~/new.toml")
        await shown.until_shown(why)
        assert isinstance(shown.screen, Ask)
    assert len(session.events) == events


async def test_a_blade_too_wide_for_the_sockets_is_refused_in_the_walk(
    store: Store, session: Session, home: Path
) -> None:
    (home / "new.toml").write_text(SHOP.replace("1.1 mm", "4.5 mm"))
    events = len(session.events)
    async with opened(store, session) as shown:
        await menu(shown, "The blade, jig, fence or scale")
        await answer(shown, "~/new.toml")
        await back(shown, "Not recorded:", "socket")
    assert len(session.events) == events


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


PATHS = [
    (),
    (WRONG,),
    (WRONG, "09:30:00  side 1, end A, tail 2"),
    (WRONG, "09:30:00  side 1, end A, tail 2", "Off the line, into"),
    (WRONG, "09:30:00  side 1, end A, tail 2", "On the wrong side"),
    ("side 1 is spoiled",),
    ("side 1 gets another label",),
    ("Skip side 1",),
    ("Put side 1 aside",),
    ("Finish side 1 first",),
    ("Another setting first",),
    ("Another setting first", "setting 2"),
    ("Another board is spoiled",),
    ("Another board is spoiled", "side 2"),
    ("Add a board",),
    ("Add a board", "side"),
    ("Leave a board out",),
    ("Leave a board out", "side 2"),
    ("The blade, jig",),
]


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
        await menu(shown, "side 1 is spoiled")
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


async def test_a_change_from_the_slower_window_is_refused_and_told(store: Store, session: Session) -> None:
    other = Session(store, store.batch(session.id))
    async with opened(store, session) as shown:
        await menu(shown, "side 1 is spoiled")
        await answer(shown, "split")
        await shown.until_shown("Shall it be so?")
        go(other, 1)
        events = len(other.events)
        await choose(shown, "Yes")
        await back(shown, "Another window was quicker: this one has caught up, and nothing was counted twice.")
        assert session.walker.out == set()
        assert len(session.events) == events
        assert session.walker.done == other.walker.done


async def test_the_same_board_spoiled_in_both_windows_is_out_once(store: Store, session: Session) -> None:
    from coach.record import corrections

    other = Session(store, store.batch(session.id))
    async with opened(store, session) as shown:
        await menu(shown, "side 1 is spoiled")
        await answer(shown, "split")
        await shown.until_shown("Shall it be so?")
        other.change(corrections.spoil(other, 1, "split").events)
        await choose(shown, "Yes")
        await back(shown, "Another window was quicker")
    assert kinds(session, 0).count("spoil") == 1
    assert session.walker.out == {1}


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
        await menu(shown, "The blade, jig, fence or scale")
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


async def test_the_log_corrects_the_board_that_is_looked_at_and_stays_there(store: Store, session: Session) -> None:
    from coach.tui.log import LogScreen

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
    from coach.tui.log import LogScreen

    async with opened(store, session) as shown:
        await shown.press("l")
        await shown.until_on(LogScreen)
        await shown.pilot.press("down", "enter")
        await shown.until_shown("No cut stands that could be corrected.")


async def test_the_log_shows_which_boards_are_out_and_counts_only_the_others(store: Store, session: Session) -> None:
    from coach.record import corrections
    from coach.tui.log import LogScreen

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
