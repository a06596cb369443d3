"""What must be read from two metres is large on the walk's screen: its cells are read back, and spell it."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from support.app_screens import opened, squeezed
from support.glyph_reader import large_on
from support.small_batches import go, go_to, upcoming
from support.small_jobs import job, joint, part, shop

from coach.ground.terms import End, Turn
from coach.plan.deciding.decide import decide
from coach.plan.steps import Step, StepKind
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.talk.pace import Pace, stretch
from coach.telling.naming import side_words
from coach.telling.phrases import Saying, reading_at
from coach.tui.drawing.turns import large_words, turn_picture
from coach.tui.walk.text import Window, body

MM = Saying("mm", None)
SIZES = [(80, 24), (200, 60)]


def shown_at(
    session: Session, columns: int, rows: int, *, steps: Sequence[Step] = (), plain: bool = False, left_words: str = ""
) -> str:
    """The text of the walk's body in a window of that size."""
    shown = steps or [upcoming(session)]
    lines = body(session, shown, saying(session), "", Window(columns, rows, plain), left_words=left_words)
    return "\n".join(line.plain for line in lines)


def saying(session: Session) -> Saying:
    return Saying(session.unit, session.job.shop.fence.graduation)


def between_graduations(store: Store) -> Session:
    """A batch whose one reading has a rest."""
    end = joint((5.1,))
    boards = job([part({End.A: end, End.B: end})], shop(graduation_mm="0.5"), tolerance_mm=0.001)
    return start(store, "rest", boards, decide(boards), "mm")


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("size", SIZES)
async def test_reading_mark_label_and_turn_are_read_back_from_the_screens_own_cells(
    store: Store, session: Session, size: tuple[int, int], plain: bool
) -> None:
    async with opened(store, session, size=size, plain=plain) as shown:

        async def reads(*texts: str) -> None:
            shown.walk.show()
            await shown.until(lambda: set(texts) <= large_on(shown.text(), plain=plain), f"{texts} in large letters")

        fence = go_to(session, StepKind.SET_FENCE)
        assert fence.setting is not None
        await reads(reading_at(session.walker, fence.setting, MM))
        check = go_to(session, StepKind.CHECK)
        assert check.mark_mm is not None
        await reads(MM.length(check.mark_mm))
        cut = go_to(session, StepKind.CUT)
        # Where label and turn share a row with the turn's picture, there is room for one word.
        await reads("side 1", large_words(None, new=True)[0 if size > (100, 30) else -1])
        turns: set[Turn] = set()
        while cut.kind is StepKind.CUT and len(turns) < 2:
            go(session, 1)
            cut = upcoming(session)
            if cut.turn is not None:
                turns.add(cut.turn)
                await reads(*large_words(cut.turn, new=False))


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (120, 40), (200, 60)])
def test_a_cut_shows_the_picture_of_its_turn_and_what_must_be_visible_by_the_boards_name(
    session: Session, size: tuple[int, int]
) -> None:
    while (step := go_to(session, StepKind.CUT)).turn is None:
        go(session, 1)
    assert step.side is not None and step.face_up is not None and step.edge is not None
    text = shown_at(session, *size)
    for row in turn_picture(step.turn, step.side.end, step.face_up, taken=False, plain=False):
        assert row.rstrip() in text
    check = (
        f"Check side 1: End {step.side.end} leads, {step.edge.upper()} edge at the jig, {step.face_up.upper()} face up."
    )
    assert check in text


def test_a_rest_beside_the_nearest_graduation_is_large_too_where_there_is_room_and_never_lost(store: Store) -> None:
    session = between_graduations(store)
    step = go_to(session, StepKind.SET_FENCE)
    assert step.setting is not None
    main, sign, amount = reading_at(session.walker, step.setting, saying(session)).rsplit(" ", 2)
    for size in (40, 15), (60, 20), (80, 24), (100, 30), (120, 40), (200, 60):
        text = shown_at(session, *size)
        large = large_on(text, plain=False)
        assert f"{main} {sign} {amount}" in large or main in large, text
        assert f"{sign} {amount}" in text or {f"{main} {sign} {amount}", f"{sign} {amount}"} & large, text
        if size >= (60, 20):
            assert {f"{main} {sign} {amount}", f"{sign} {amount}"} & large, text


def test_the_letters_are_larger_where_the_window_is(session: Session) -> None:
    go_to(session, StepKind.SET_FENCE)
    inks = [
        sum(sign in "█▀▄" for sign in shown_at(session, *size)) for size in ((40, 15), (60, 20), (80, 24), (200, 60))
    ]
    assert inks == sorted(set(inks))


def test_a_label_that_cant_be_large_stands_in_ordinary_letters(store: Store) -> None:
    end = joint((5.0, 30.5))
    boards = job([part({End.A: end, End.B: end}, label="横木の側板")])
    session = start(store, "label", boards, decide(boards), "mm")
    go_to(session, StepKind.CUT)
    assert "横木の側板 1: end A" in shown_at(session, 120, 40)
    assert large_on(shown_at(session, 120, 40), plain=False) >= {"NEW BOARD"}


@pytest.mark.parametrize("size", [(40, 15), (60, 20), (80, 24), (200, 60)])
@pytest.mark.parametrize("pace", [Pace.BOARD, Pace.SETTING])
def test_a_key_for_many_cuts_lists_them_in_order_and_says_how_many_more_there_are(
    session: Session, pace: Pace, size: tuple[int, int]
) -> None:
    go_to(session, StepKind.CUT)
    steps = stretch(session.walker, pace)
    text = shown_at(session, *size, steps=steps)
    sides = [squeezed(side_words(step.side)) for step in steps if step.side is not None]
    listed, at = 0, 0
    for place, side in enumerate(sides, start=1):
        found = squeezed(text).find(f"{side}", at)
        if found < 0 or f"{place}" not in squeezed(text):
            break
        listed, at = listed + 1, found + len(side)
    more = len(steps) - listed
    assert listed >= 1
    assert (f"and {more} more" in text) is (more > 0), text
    assert f"{len(steps)} cuts" in text


def test_at_a_boards_pace_its_label_is_large(session: Session) -> None:
    go_to(session, StepKind.CUT)
    steps = stretch(session.walker, Pace.BOARD)
    assert len(steps) > 1
    assert "side 1" in large_on(shown_at(session, 80, 24, steps=steps), plain=False)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        (52, "3/16 cuts"),
        (60, "3 of 16 cuts done"),
        (80, "3 of 16 cuts done"),
        (120, "3 of 16 cuts done, 0 of 2 boards"),
    ],
)
def test_how_far_it_is_and_the_time_left_stand_there_in_as_many_words_as_fit(
    session: Session, columns: int, words: str
) -> None:
    go_to(session, StepKind.CUT)
    go(session, 3)
    text = shown_at(session, columns, 30, left_words="about 25 min left at your pace")
    assert "5 cuts left, 2 boards" in text
    assert f"{words}, about 25 min left at your pace" in text


def test_from_twenty_rows_on_the_label_is_never_smaller_in_a_higher_window(session: Session) -> None:
    go_to(session, StepKind.CUT)
    heights = []
    for rows in range(20, 61):
        lines = shown_at(session, 120, rows).split("\n")
        first = next(at for at, line in enumerate(lines) if " CUT " in line) + 1
        label = [line[:44] for line in lines[first:]]
        heights.append(next(at for at, line in enumerate(label) if set(line) - set("█▀▄ ") or not line.strip()))
    assert heights == sorted(heights)
    assert heights[0] >= 5
