"""A kerf that stands for no side stays in the wood, whatever is said of other cuts afterwards.

The board is 40 mm wide with one tail at end A: marks at 10 mm from the top edge and 9 mm from the bottom edge, so that
the tail goes from 10 to 31 mm. The kerf is 0.9 mm, the slope 1:8, so the kerf takes 0.907 mm along the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from support.mid_batch import begun, tools
from support.small_batches import Ticking, go, go_to
from support.small_jobs import job, joint, part, plain

from coach.ground.terms import Edge, End, Hand, Side
from coach.plan.judging.mistakes import Judgement, Mistake, Verdict
from coach.plan.steps import StepKind
from coach.record.batch import corrections
from coach.record.batch.events import step_of
from coach.record.batch.session import Session
from coach.record.batch.strays import strays_of
from coach.record.disk.store import Store
from coach.record.rows import Event

TOP, BOTTOM = (Side(1, End.A, 1, faces) for faces in (Edge.TOP, Edge.BOTTOM))
KEPT = "Its mark stays where it was mended to: another kerf stands in the wood beside it."
CUT_IN_TWO = ("The kerf goes right through tail 1 at end A: the tail is cut through.",)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path, clock=Ticking()) as opened:
        yield opened


@pytest.fixture(params=[(Hand.RIGHT, True), (Hand.LEFT, True), (Hand.RIGHT, False)])
def session(store: Store, request: pytest.FixtureRequest) -> Session:
    """Two boards, all of whose cuts are made."""
    side, wide_leads = request.param
    using = tools(0.9, 80.0, side, None, wide_leads=wide_leads)
    opened = begun(
        store, job([part({End.A: joint((10.0,), (9.0,))}, boards=2, width_mm=40.0)], using, tolerance_mm=0.2)
    )
    go_to(opened, StepKind.CLEAR)
    return opened


def cut_of(session: Session, side: Side) -> Event:
    return next(
        event for event in reversed(session.events) if event.kind == StepKind.CUT and step_of(event).side == side
    )


def said(session: Session, side: Side, mistake: Mistake, off_mm: float = 0.0) -> Judgement:
    """Records what went wrong with the cut of a side."""
    judgement, correction = corrections.cut_wrong(session, cut_of(session, side), mistake, off_mm, plain)
    session.change(correction.events)
    return judgement


def marks(session: Session) -> tuple[float, float]:
    end = session.job.pattern_of(1).ends[End.A]
    return end.top_marks_mm[0], end.bottom_marks_mm[0]


def with_a_stray(session: Session) -> None:
    """The bottom's cut is 3 mm in the tail, to 12 mm from the edge; the top's was made at 10 mm from that same edge,
    which is waste then."""
    assert said(session, BOTTOM, Mistake.OFF_LINE, 3.0).verdict is Verdict.MENDABLE
    assert said(session, TOP, Mistake.WRONG_EDGE).verdict is Verdict.CUT_AGAIN
    assert marks(session) == pytest.approx((10.0, 12.0))


def test_a_cut_that_is_to_be_made_again_keeps_its_mark_where_a_kerf_stands_beside_it(session: Session) -> None:
    with_a_stray(session)
    found = said(session, BOTTOM, Mistake.OFF_LINE, -3.0)
    assert found.verdict is Verdict.CUT_AGAIN
    assert found.lines[-1] == KEPT
    assert marks(session) == pytest.approx((10.0, 12.0))


def test_a_cut_taken_back_keeps_its_mark_where_a_kerf_stands_beside_it(session: Session) -> None:
    with_a_stray(session)
    session.change(corrections.take_back(session, cut_of(session, BOTTOM)).events)
    assert marks(session) == pytest.approx((10.0, 12.0))
    assert BOTTOM not in session.walker.done


def test_a_cut_that_was_right_after_all_has_the_other_kerf_in_its_tail(session: Session) -> None:
    with_a_stray(session)
    found = said(session, BOTTOM, Mistake.OFF_LINE, 0.1)
    assert (found.verdict, found.lines) == (Verdict.SPOILED, CUT_IN_TWO)


def test_a_cut_that_is_a_little_less_off_has_the_other_kerf_in_its_tail(session: Session) -> None:
    with_a_stray(session)
    # The kerf reaches from 9.093 to 10 mm: a mark at 9.9 leaves a slit in the tail of 0.1 mm, within tolerance.
    assert said(session, BOTTOM, Mistake.OFF_LINE, 0.5).verdict is Verdict.SPOILED


def test_without_another_kerf_the_mark_goes_back(session: Session) -> None:
    assert said(session, BOTTOM, Mistake.OFF_LINE, 3.0).verdict is Verdict.MENDABLE
    found = said(session, BOTTOM, Mistake.OFF_LINE, -3.0)
    assert KEPT not in found.lines
    assert marks(session) == pytest.approx((10.0, 9.0))


def test_once_the_other_kerf_is_taken_back_the_mark_goes_back(session: Session) -> None:
    with_a_stray(session)
    session.undo()
    assert said(session, BOTTOM, Mistake.OFF_LINE, -3.0).verdict is Verdict.CUT_AGAIN
    assert marks(session) == pytest.approx((10.0, 9.0))


def cut_anew_with_a_thicker_blade(session: Session) -> None:
    session.change(corrections.take_back(session, cut_of(session, TOP)).events)
    now = session.job.shop
    thicker = replace(now, saw=replace(now.saw, kerf_mm=1.4))
    session.change(corrections.change_shop(session, thicker, plain).events)
    while TOP not in session.walker.done:
        go(session, 1)


def test_a_stray_kerf_is_as_wide_as_the_blade_that_made_it(session: Session) -> None:
    cut_anew_with_a_thicker_blade(session)
    assert said(session, TOP, Mistake.OFF_LINE, -2.0).verdict is Verdict.CUT_AGAIN
    assert [stray.cut_by.shop.saw.kerf_mm for stray in strays_of(session, 1)] == [1.4]


def test_a_stray_kerf_is_of_the_cut_that_stood(session: Session) -> None:
    first = cut_of(session, TOP)
    cut_anew_with_a_thicker_blade(session)
    while first.number in session.undone:
        session.undo()
    _, correction = corrections.cut_wrong(session, first, Mistake.OFF_LINE, -2.0, plain)
    session.change(correction.events)
    assert [stray.cut_by.shop.saw.kerf_mm for stray in strays_of(session, 1)] == [0.9]


@pytest.mark.parametrize("kerf_there", [False, True])
def test_the_other_side_cant_make_up_where_a_kerf_stands_in_its_socket(store: Store, kerf_there: bool) -> None:
    # The tail goes from 5 to 15 mm. With a cut 8.5 mm into it too little is left, so that its other mark would have to
    # move out, to some 2 mm from the edge. A kerf that reaches from 3.1 to 4 mm stands in that wood.
    made = job([part({End.A: joint((5.0,), (5.0,))}, boards=2, width_mm=20.0)], tolerance_mm=0.2)
    session = begun(store, made)
    go_to(session, StepKind.CLEAR)
    if kerf_there:
        assert said(session, BOTTOM, Mistake.OFF_LINE, -1.0).verdict is Verdict.CUT_AGAIN
    else:
        session.change(corrections.take_back(session, cut_of(session, BOTTOM)).events)
    found = said(session, TOP, Mistake.OFF_LINE, 8.5)
    assert found.verdict is (Verdict.SPOILED if kerf_there else Verdict.MENDABLE)


def test_a_boards_stray_kerfs_change_ends_when_it_is_lettered_anew(store: Store) -> None:
    ends = {End.A: joint((10.0,), (9.0,)), End.B: joint((10.0,), (9.0,))}
    made = job(
        [part(ends, boards=2, spares=2, handed=True, width_mm=40.0)],
        tools(0.9, 80.0, Hand.RIGHT, None, wide_leads=True),
    )
    session = begun(store, made)
    go_to(session, StepKind.CLEAR)
    right = next(board for board in made.boards if board.spare and made.pattern_of(board.number).hand is Hand.RIGHT)
    left = next(board for board in made.boards if not board.spare and made.pattern_of(board.number).hand is Hand.LEFT)
    other = next(board for board in made.boards if board.spare and board.number != right.number)
    assert said(session, Side(right.number, End.A, 1, Edge.TOP), Mistake.OFF_LINE, -2.0).verdict is Verdict.CUT_AGAIN
    assert [(stray.end, stray.faces) for stray in strays_of(session, right.number)] == [(End.A, Edge.TOP)]
    session.change(corrections.drop(session, other.number).events)
    session.change(corrections.spoil(session, left.number, "split").events)
    assert [(stray.end, stray.faces) for stray in strays_of(session, right.number)] == [(End.B, Edge.TOP)]
    assert strays_of(session, left.number) == []
