"""The log on the screen: the boards of a batch by their cuts, and what was done on each."""

from __future__ import annotations

from datetime import timedelta

import pytest
from rich.style import Style
from support.app_screens import Shown, opened
from support.small_batches import ALL_STEPS, BEFORE_FIRST_CUT, Clock, go, go_to
from support.small_jobs import job, joint, part, two_tails
from textual.widgets import DataTable, Input, Static

from coach.ground.terms import End
from coach.plan.deciding.decide import decide
from coach.plan.steps import StepKind
from coach.record.batch import corrections
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.tui.screens.log import MOST_ROWS, LogScreen
from coach.tui.walk.screen import WalkScreen


async def open_log(shown: Shown) -> LogScreen:
    """Opens the log from the walk."""
    await shown.press("l")
    await shown.until_on(LogScreen)
    assert isinstance(shown.screen, LogScreen)
    await shown.until(lambda: bool(rows(shown)), "a filled table")
    return shown.screen


def table(shown: Shown) -> DataTable[object]:
    """The boards."""
    return shown.screen.query_one("#boards", DataTable)


def rows(shown: Shown) -> list[list[str]]:
    """The table's rows as they read."""
    found = table(shown)
    return [[str(cell) for cell in found.get_row_at(index)] for index in range(found.row_count)]


def cuts(shown: Shown) -> list[str]:
    """What is said of the board that is looked at, line by line, after its ends and baselines."""
    lines = str(shown.screen.query_one("#cuts", Static).content).splitlines()
    return [line for line in lines if not line.startswith(("Baseline ", "Outside to you"))]


async def until_cuts(shown: Shown, words: str) -> None:
    """Waits until `words` are said of the board that is looked at."""
    await shown.until(lambda: any(words in line for line in cuts(shown)), words)


async def test_each_board_has_a_row_with_its_cuts_its_ends_and_when_it_was_last_cut(
    store: Store, session: Session
) -> None:
    go(session, BEFORE_FIRST_CUT + 5)
    async with opened(store, session) as shown:
        await open_log(shown)
        assert rows(shown) == [
            ["side 1", "4 of 8", "A 2 of 4, B 2 of 4", "today 09:30"],
            ["side 2", "1 of 8", "A 1 of 4, B 0 of 4", "today 09:30"],
        ]
        assert shown.shows("drawers 0 of 2 boards all cut, 11 cuts left")


async def test_a_board_cut_on_another_day_says_which(store: Store, session: Session, clock: Clock) -> None:
    go(session, BEFORE_FIRST_CUT + 4)
    clock.time += timedelta(days=1)
    go(session, 1)
    async with opened(store, session, clock=clock) as shown:
        await open_log(shown)
        assert [row[3] for row in rows(shown)] == ["yesterday 09:30", "today 09:30"]


async def test_a_board_that_nothing_was_done_on_says_so(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await open_log(shown)
        assert rows(shown)[0] == ["side 1", "not begun", "A 0 of 4, B 0 of 4", ""]
        await until_cuts(shown, "Nothing is cut on this board yet.")


async def test_a_board_that_is_all_cut_says_so(store: Store, session: Session) -> None:
    go_to(session, StepKind.CLEAR)
    async with opened(store, session) as shown:
        await open_log(shown)
        assert [row[1:3] for row in rows(shown)] == [["all cut", "A cut, B cut"]] * 2
        assert shown.shows("2 of 2 boards all cut, 0 cuts left")


@pytest.mark.parametrize(
    ("kind", "done", "state"),
    [
        (StepKind.CLEAR, 1, "A cleared, B cut"),
        (StepKind.TRANSFER, 2, "A marked, B marked"),
        (StepKind.SAW_PIN, 1, "A sawn, B marked"),
        (StepKind.FIT, 1, "A fitted, B sawn"),
    ],
)
async def test_each_corner_says_how_far_it_has_come_at_the_bench(
    store: Store, session: Session, kind: StepKind, done: int, state: str
) -> None:
    go_to(session, kind)
    go(session, done)
    async with opened(store, session) as shown:
        await open_log(shown)
        assert rows(shown)[0][2] == state


async def test_when_everything_is_done_every_corner_is_fitted(store: Store, session: Session) -> None:
    go(session, ALL_STEPS)
    async with opened(store, session) as shown:
        await open_log(shown)
        assert [row[2] for row in rows(shown)] == ["A fitted, B fitted"] * 2


async def test_the_cuts_of_the_board_that_is_looked_at_are_listed_oldest_first(
    store: Store, session: Session, clock: Clock
) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    clock.time += timedelta(minutes=2)
    go(session, 1)
    async with opened(store, session, clock=clock) as shown:
        await open_log(shown)
        await until_cuts(shown, "tail")
        assert cuts(shown) == [
            "2031-03-04 09:30:00  end A, tail 2, top side, setting 1",
            "2031-03-04 09:32:00  end A, tail 1, bottom side, setting 1",
        ]


async def test_tab_goes_to_the_cuts_which_scroll_to_the_last(store: Store, session: Session) -> None:
    go_to(session, StepKind.CLEAR)
    async with opened(store, session, size=(60, 20)) as shown:
        await open_log(shown)
        await until_cuts(shown, "end B")
        assert not shown.shows(cuts(shown)[-1])
        await shown.pilot.press("tab", "end")
        await shown.until_shown(cuts(shown)[-1])


async def test_going_down_looks_at_the_next_board(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    async with opened(store, session) as shown:
        await open_log(shown)
        await until_cuts(shown, "tail")
        await shown.pilot.press("down")
        await until_cuts(shown, "Nothing is cut on this board yet.")


async def test_steps_at_the_bench_are_listed_with_the_cuts(store: Store, session: Session) -> None:
    go_to(session, StepKind.CLEAR)
    go(session, 1)
    async with opened(store, session) as shown:
        await open_log(shown)
        await until_cuts(shown, "end A cleared")


async def test_a_cut_that_was_undone_is_struck_and_marked(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 2)
    session.undo()
    async with opened(store, session) as shown:
        await open_log(shown)
        await until_cuts(shown, "(undone)")
        kept, undone = cuts(shown)
        assert not kept.endswith("(undone)")
        assert undone == "2031-03-04 09:30:00  end A, tail 1, bottom side, setting 1  (undone)"
        assert rows(shown)[0][1] == "1 of 8"
        struck = {
            segment.text.strip()
            for segment in shown.segments()
            if isinstance(segment.style, Style) and segment.style.strike and segment.text.strip()
        }
        assert struck == {undone.removesuffix("  (undone)")}


async def test_the_filter_keeps_the_boards_whose_label_holds_what_was_typed(store: Store) -> None:
    end = joint((5.0, 30.5))
    parts = [part({End.A: end}, label=label, boards=2) for label in ("Side", "[b]back[/]")]
    boards = job(parts)
    session = start(store, "two parts", boards, decide(boards), "mm")
    async with opened(store, session) as shown:
        screen = await open_log(shown)
        assert len(rows(shown)) == 4
        await shown.pilot.press("slash")
        await shown.until(lambda: isinstance(screen.focused, Input), "the filter")
        await shown.type_in("side")
        await shown.until(lambda: len(rows(shown)) == 2, "two boards")
        assert [row[0] for row in rows(shown)] == ["Side 1", "Side 2"]
        screen.query_one("#filter", Input).value = "[b]"
        await shown.until(lambda: [row[0] for row in rows(shown)] == ["[b]back[/] 1", "[b]back[/] 2"], "the backs")
        await shown.until_shown("[b]back[/] 1")


async def test_the_cuts_below_are_those_of_the_first_board_that_fits(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    async with opened(store, session) as shown:
        await open_log(shown)
        await until_cuts(shown, "tail")
        await shown.pilot.press("slash")
        await shown.paste("side 2")
        await until_cuts(shown, "Nothing is cut on this board yet.")


async def test_a_filter_that_nothing_fits_says_so(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        await open_log(shown)
        await shown.pilot.press("slash")
        await shown.paste("lid")
        await until_cuts(shown, "No board's label holds that.")
        assert not rows(shown)


async def test_escape_leaves_the_filter_first_and_then_the_log(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        screen = await open_log(shown)
        await shown.pilot.press("slash")
        await shown.until(lambda: isinstance(screen.focused, Input), "the filter")
        await shown.pilot.press("escape")
        await shown.until(lambda: screen.focused is table(shown), "the table")
        assert isinstance(shown.screen, LogScreen)
        await shown.pilot.press("escape")
        await shown.until_on(WalkScreen)


async def test_a_q_typed_into_the_filter_does_not_close_the_log(store: Store, session: Session) -> None:
    async with opened(store, session) as shown:
        screen = await open_log(shown)
        await shown.pilot.press("slash")
        await shown.until(lambda: isinstance(screen.focused, Input), "the filter")
        await shown.pilot.press("q")
        await shown.until(lambda: screen.query_one("#filter", Input).value == "q", "a q")
        assert isinstance(shown.screen, LogScreen)


async def test_lefts_rights_and_spares_are_told_apart(store: Store) -> None:
    end = joint((5.0, 30.5))
    boards = job([part({End.A: end, End.B: end}, boards=2, spares=1, handed=True)])
    session = start(store, "handed", boards, decide(boards), "mm")
    async with opened(store, session) as shown:
        await open_log(shown)
        assert [row[0] for row in rows(shown)] == ["side 1 (left)", "side 2 (right)", "side 3 (left, spare)"]


async def test_ten_thousand_boards_stay_at_five_hundred_rows_and_the_filter_finds_the_others(store: Store) -> None:
    boards = two_tails(boards=10_000)
    session = start(store, "very many", boards, decide(boards), "mm")
    async with opened(store, session) as shown:
        screen = await open_log(shown)
        assert table(shown).row_count == MOST_ROWS == 500
        await shown.until_shown("10000 boards fit; the first 500 are shown. A filter finds the others.")
        screen.query_one("#filter", Input).value = "side 9999"
        await shown.until(lambda: [row[0] for row in rows(shown)] == ["side 9999"], "side 9999")
        await shown.until(lambda: not shown.shows("boards fit"), "a title without a note")


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (40, 15)])
async def test_when_a_board_was_last_cut_is_seen_at_every_size(
    store: Store, session: Session, size: tuple[int, int]
) -> None:
    go(session, BEFORE_FIRST_CUT + 3)
    session.change(corrections.label(session, 1, "a rather long name for a board").events)
    async with opened(store, session, size=size) as shown:
        await open_log(shown)
        await shown.until(lambda: any("last cut" in line for line in shown.text().splitlines()), "the last column")
        row = next(line for line in shown.text().splitlines() if line.lstrip().startswith("a rath"))
        assert row.rstrip(" |#▌▐▎▁▂▃▄▅▆▇█").endswith("09:30")
