"""Changing a batch in its middle: boards spoiled and added, labels, another order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from pathlib import Path

import pytest
from support.mid_batch import ahead, begun, changed, finished_board, moves, past
from support.small_batches import Clock, go, go_to
from support.small_jobs import job, joint, part, plain, shop, two_tails

from coach.ground.errors import CoachError
from coach.ground.terms import End, Hand
from coach.plan.changing.changes import setting_first
from coach.plan.deciding.decide import decide
from coach.plan.helping.totals import Totals
from coach.plan.intervals import Interval
from coach.plan.judging.mistakes import Mistake
from coach.plan.reach import fence_interval
from coach.plan.steps import StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.record.batch import corrections
from coach.record.batch.session import Session
from coach.record.disk.store import Store

UNEVEN = joint((4.0, 20.1, 38.0), (4.3, 20.2, 38.5))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path, clock=Clock()) as opened:
        yield opened


def boards_cut(session: Session) -> list[int]:
    """The boards in the order in which the plan from here cuts them, each stay at the saw once."""
    found: list[int] = []
    for step in ahead(session):
        if step.side is not None and found[-1:] != [step.side.board]:
            found.append(step.side.board)
    return found


def test_a_spoiled_board_is_out_and_the_spare_takes_its_place(store: Store) -> None:
    session = begun(store, two_tails(boards=2, spares=1))
    go_to(session, StepKind.CUT)
    said = changed(session, corrections.spoil(session, 1, "split"))
    assert session.walker.out == {1}
    assert not session.job.board(3).spare
    assert said == "side 3 takes the place of side 1; it is cut as far as this one."


def test_the_spare_with_the_fewest_cuts_left_takes_the_place(store: Store) -> None:
    session = begun(store, two_tails(boards=1, spares=2))
    changed(session, corrections.finish_first(session, 3))
    go_to(session, StepKind.CUT)
    go(session, 3)
    changed(session, corrections.spoil(session, 1, "split"))
    assert [board.number for board in session.job.boards if not board.spare] == [1, 3]


def test_of_handed_parts_only_a_spare_of_the_same_hand_takes_the_place(store: Store) -> None:
    made = job([part({End.A: UNEVEN, End.B: joint((5.0,))}, boards=2, spares=2, handed=True)])
    session = begun(store, made)  # lefts are boards 1 and 3, rights 2 and 4
    changed(session, corrections.spoil(session, 2, "split"))
    assert [board.number for board in session.job.boards if board.spare] == [3]


def test_a_spare_of_another_part_doesnt_take_the_place(store: Store) -> None:
    ends = {End.A: UNEVEN}
    made = job([part(ends, boards=2), part(ends, label="back", spares=1)])
    session = begun(store, made)
    said = changed(session, corrections.spoil(session, 1, "split"))
    assert said.startswith("No spare is left for side 1: the batch is one board short.")


def test_how_far_behind_the_spare_is_gets_said(store: Store) -> None:
    session = begun(store, two_tails(boards=1, spares=1))
    go_to(session, StepKind.CUT)
    go(session, 3)
    assert changed(session, corrections.spoil(session, 1, "split")) == (
        "side 2 takes the place of side 1; it has 8 cuts left."
    )


@pytest.mark.parametrize("cuts", [0, 3, 8, 9, 13])
def test_a_spare_that_went_through_every_setting_needs_no_more_fence_settings(store: Store, cuts: int) -> None:
    session = begun(store, two_tails(boards=1, spares=1))
    while session.walker.cuts_in_all - session.walker.cuts_left_in_all < cuts:
        go(session, 1)
    before = moves(session)
    changed(session, corrections.spoil(session, 1, "split"))
    assert moves(session) <= before


def test_a_spare_that_is_spoiled_leaves_the_batch_whole(store: Store) -> None:
    session = begun(store, two_tails(boards=1, spares=1))
    assert changed(session, corrections.spoil(session, 2, "split")) == "side 2 was a spare; the batch has one less."
    assert not session.job.board(1).spare


def test_a_board_that_is_left_out_gets_no_spare(store: Store) -> None:
    session = begun(store, two_tails(boards=2, spares=1))
    assert changed(session, corrections.drop(session, 1)) == "side 1 is out of the batch."
    assert session.job.board(3).spare


def test_the_board_that_a_spare_has_become_goes_on_to_the_bench(store: Store) -> None:
    session = begun(store, two_tails(boards=1, spares=1))
    changed(session, corrections.spoil(session, 1, "split"))
    assert {step.board for step in ahead(session) if step.board is not None} == {2}


def test_a_board_cant_be_spoiled_twice(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    changed(session, corrections.spoil(session, 1, "split"))
    with pytest.raises(CoachError, match="side 1 is out of the batch already"):
        corrections.spoil(session, 1, "split")


def test_the_last_board_cant_leave_the_batch(store: Store) -> None:
    session = begun(store, two_tails())
    with pytest.raises(CoachError, match="last board of the batch; add another first"):
        corrections.spoil(session, 1, "split")


def fewest(intervals: Sequence[Interval]) -> int:
    """How many fence positions it takes to serve all, by trying every set of right ends."""
    ends = sorted({interval.high for interval in intervals})
    return next(
        number
        for number in range(len(intervals) + 1)
        if any(
            all(any(interval.holds(at) for at in chosen) for interval in intervals)
            for chosen in combinations(ends, number)
        )
    )


@pytest.mark.parametrize("tolerance_mm", [None, 0.06, 0.25, 0.5])
@pytest.mark.parametrize("passed", [0, 1, 2, 3])
def test_an_added_board_makes_the_fewest_more_settings(store: Store, passed: int, tolerance_mm: float | None) -> None:
    made = job([part({End.A: UNEVEN, End.B: joint((4.1, 38.2))}, boards=2)], tolerance_mm=tolerance_mm)
    session = begun(store, made)
    settings = session.walker.settings
    past(session, min(passed, len(settings.fence_mm) - 1))
    walker = session.walker
    coming = [
        at for index, at in enumerate(settings.fence_mm) if walker.cuts_left(index) or index == walker.fence.setting
    ]
    pattern = made.patterns[0]
    intervals = [fence_interval(made, pattern, side) for side in pattern.sides()]
    unserved = [interval for interval in intervals if not any(interval.holds(at) for at in coming)]
    before = moves(session)
    changed(session, corrections.add_boards(session, 1, 1)[1])
    assert moves(session) - before == fewest(unserved)


def test_a_board_added_before_any_setting_has_passed_costs_none(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    before = moves(session)
    changed(session, corrections.add_boards(session, 1, 1)[1])
    assert moves(session) == before


def test_a_board_added_at_the_last_setting_has_the_one_before_set_again(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    past(session, 1)
    said = changed(session, corrections.add_boards(session, 1, 1)[1])
    assert said.startswith("Added: side 3. That makes 1 more fence setting")
    assert len(session.walker.settings.fence_mm) == 2


def test_several_boards_added_at_once_share_their_settings(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    past(session, 1)
    before = moves(session)
    changed(session, corrections.add_boards(session, 1, 4)[1])
    assert moves(session) == before + 1


def test_an_added_board_gets_all_its_cuts(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    go_to(session, StepKind.FIT)
    changed(session, corrections.add_boards(session, 1, 1)[1])
    assert [step.side.board for step in ahead(session) if step.side is not None] == [3] * 8


def test_added_boards_go_on_with_the_numbers_of_their_part(store: Store) -> None:
    ends = {End.A: UNEVEN}
    session = begun(store, job([part(ends, boards=2, spares=1), part(ends, label="back")]))
    boards, _ = corrections.add_boards(session, 1, 2, spare=True)
    assert [(board.number, board.label, board.spare) for board in boards] == [(5, "side 4", True), (6, "side 5", True)]


def test_an_added_board_takes_no_label_that_another_has(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    changed(session, corrections.label(session, 2, "side 3"))
    boards, _ = corrections.add_boards(session, 1, 1)
    assert boards[0].label == "side 4"


def test_an_added_board_is_called_after_its_part_though_others_were_relabelled(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    changed(session, corrections.label(session, 1, "left front"))
    boards, _ = corrections.add_boards(session, 1, 1)
    assert boards[0].label == "side 3"


def test_a_board_like_a_mended_one_takes_after_the_layout(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    go_to(session, StepKind.CUT)
    go(session, 1)
    _, correction = corrections.cut_wrong(session, session.events[-1], Mistake.OFF_LINE, 0.6, plain)
    changed(session, correction)
    changed(session, corrections.add_boards(session, 1, 1)[1])
    assert session.job.pattern_of(3).ends[End.A].top_marks_mm == (5.0, 30.5)


def test_an_added_board_of_a_handed_part_has_the_hand_of_the_one_it_is_like(store: Store) -> None:
    made = job([part({End.A: UNEVEN, End.B: joint((5.0,))}, boards=2, handed=True)])
    session = begun(store, made)
    changed(session, corrections.add_boards(session, 2, 1)[1])
    assert session.job.pattern_of(3).hand is Hand.RIGHT


def test_a_board_whose_socket_the_blade_in_use_doesnt_fit_cant_be_added(store: Store) -> None:
    narrow = part({End.A: joint((5.0, 29.0))}, label="narrow")  # a socket of 1 mm
    session = begun(store, job([narrow, part({End.A: joint((5.0, 30.5))}, label="wide")]))
    finished_board(session, 1, corrections.finish_first(session, 1))
    changed(session, corrections.change_shop(session, shop(kerf_mm=1.4), plain))
    with pytest.raises(CoachError, match="the blade doesn't fit"):
        corrections.add_boards(session, 1, 1)


def test_a_board_gets_another_label(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    assert changed(session, corrections.label(session, 1, " left front ")) == (
        "side 1 is called left front from now on."
    )
    assert session.job.board(1).label == "left front"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("side 2", "called “side 2” already"),
        (" side 2 ", "called “side 2” already"),
        ("", "the label"),
        ("   ", "the label"),
        ("a\nb", "the label"),
        ("a\u202eb", "the label"),
        ("x" * 61, "the label"),
    ],
)
def test_a_label_that_cant_be_one_is_refused(store: Store, text: str, why: str) -> None:
    session = begun(store, two_tails(boards=2))
    with pytest.raises(CoachError, match=why):
        corrections.label(session, 1, text)


def test_a_board_put_aside_comes_when_no_other_has_a_cut_left(store: Store) -> None:
    session = begun(store, two_tails(boards=3))
    go_to(session, StepKind.CUT)
    changed(session, corrections.put_aside(session, 1))
    order = boards_cut(session)
    assert 1 not in order[: order.index(1)]
    assert set(order[order.index(1) :]) == {1}


def test_what_putting_a_board_aside_costs_is_said(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    before = Totals.of(ahead(session))
    said = changed(session, corrections.put_aside(session, 2))
    assert Totals.of(ahead(session)).moves == before.moves + 1
    assert said.startswith("That makes 1 more fence setting")


def test_a_board_taken_up_again_takes_its_turn(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    meant = ahead(session)
    changed(session, corrections.put_aside(session, 1))
    assert changed(session, corrections.take_up(session, 1)).startswith("That makes 1 fewer fence setting")
    assert ahead(session) == meant


def test_a_board_to_be_finished_first_is_cut_at_every_setting_before_the_others(store: Store) -> None:
    session = begun(store, two_tails(boards=3))
    said = changed(session, corrections.finish_first(session, 2))
    assert boards_cut(session)[0] == 2
    assert [step.side.board for step in ahead(session) if step.side is not None][:8] == [2] * 8
    assert "more fence setting" in said


def test_after_the_board_that_was_finished_first_the_others_follow(store: Store) -> None:
    session = begun(store, two_tails(boards=3))
    changed(session, corrections.finish_first(session, 2))
    assert {step.side.board for step in ahead(session) if step.side is not None} == {1, 2, 3}


def test_a_setting_wanted_first_is_cut_first(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    assert changed(session, corrections.set_first(session, 1)) == "That costs nothing."
    settings = [step.setting for step in ahead(session) if step.kind is StepKind.SET_FENCE]
    assert settings == [1, 0]


def test_a_setting_with_no_cut_left_cant_come_first(store: Store) -> None:
    session = begun(store, two_tails(boards=2))
    past(session, 1)
    with pytest.raises(CoachError, match="setting 1 has no cut left"):
        corrections.set_first(session, 0)


def test_a_board_skipped_comes_last_at_its_setting(store: Store) -> None:
    session = begun(store, two_tails(boards=3))
    go_to(session, StepKind.CUT)
    assert changed(session, corrections.skip(session, 1)) == "That costs nothing."
    assert boards_cut(session)[:3] == [2, 3, 1]


def test_a_fence_that_moves_on_with_nothing_cut_leaves_the_stack_as_it_lies() -> None:
    start = beginning(two_tails(boards=3), decide(two_tails(boards=3)))
    walker = Walker(start)
    while (step := walker.peek()) is not None and step.kind is not StepKind.CHECK:
        walker.advance(step)
    walker = Walker(setting_first(walker.situation(), 1))
    while (step := walker.peek()) is not None and step.kind is not StepKind.CUT:
        walker.advance(step)
    assert walker.order == list(start.order)
    while (step := walker.peek()) is not None and step.kind is not StepKind.SET_FENCE:
        walker.advance(step)
    assert step is not None
    walker.advance(step)
    assert walker.order == list(reversed(start.order))
