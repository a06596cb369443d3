"""A spare of the other hand takes a spoiled board's place: lettered anew, its cuts are the ones that are wanted there.

The board is a rigid body that isn't touched: only its letters change. Its kerfs, made by the plan before and after, are
held against the tails of the hand that it has become, with Shapely.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from support.mid_batch import begun, tools, uneven
from support.sawn_wood import Wood
from support.small_batches import Ticking, go_to, upcoming
from support.small_jobs import job, joint, part, plain

from coach.ground.errors import CoachError
from coach.ground.terms import End, Hand, Side
from coach.plan.job import Job
from coach.plan.judging.mistakes import Mistake
from coach.plan.steps import StepKind
from coach.record.batch import corrections
from coach.record.batch.session import Session
from coach.record.disk.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path, clock=Ticking()) as opened:
        yield opened


def made(side: Hand, *, wide_leads: bool) -> Job:
    """Two lefts and a right, and a left over as a spare: boards 1 and 3 are lefts, 2 and the spare 4 rights."""
    ends = {End.A: joint((5.0, 27.0), (6.0, 31.2)), End.B: joint((8.0,), (9.5,), mates_with_mm=15.0)}
    return job([part(ends, boards=3, spares=1, handed=True)], tools(0.9, 80.0, side, "1/2", wide_leads=wide_leads))


def cut_on(session: Session, wood: Wood, steps: int | None) -> None:
    """Goes on, in the record and in the wood."""
    while (step := session.next()) is not None and step.kind is not StepKind.CLEAR and steps != 0:
        if step.side is not None and step.setting is not None:
            walker = session.walker
            length = walker.job.pattern_of(step.side.board).ends[step.side.end].tail_length_mm
            shop = walker.job_at(step.setting).shop
            wood.cut(session.events[-1].number + 1, step, shop, walker.cuts_at_mm(step.setting), length)
            steps = None if steps is None else steps - 1
        session.complete(step)


@pytest.mark.parametrize("side", list(Hand))
@pytest.mark.parametrize("wide_leads", [True, False])
@pytest.mark.parametrize("done", [0, 3, 9, 17, 24])
def test_a_spare_of_the_other_hand_comes_out_as_the_board_whose_place_it_takes(
    store: Store, side: Hand, wide_leads: bool, done: int
) -> None:
    session, wood = begun(store, made(side, wide_leads=wide_leads)), Wood()
    cut_on(session, wood, done)
    session.change(corrections.spoil(session, 2, "split").events)  # the one spare of its hand is 4
    session.change(corrections.spoil(session, 1, "split").events)
    assert session.walker.out == {1, 2}
    session.change(corrections.add_boards(session, 3, 1, spare=True)[1].events)  # 5, a left
    cut_on(session, wood, 4)
    correction = corrections.spoil(session, 4, "split")  # a right; only a left is spare
    assert "letter it anew as a right" in " ".join(correction.lines)
    session.change(correction.events)
    wood.letter_anew(5)
    assert session.job.pattern_of(5).hand is Hand.RIGHT
    cut_on(session, wood, None)
    for number in (3, 5):
        wood.inspect(number, session.job, session.job.tolerance_mm(session.job.pattern_of(number)))


def test_what_is_cut_of_it_counts_at_its_other_end(store: Store) -> None:
    session = begun(store, made(Hand.RIGHT, wide_leads=True))
    wood = Wood()
    cut_on(session, wood, 22)
    done = {side for side in session.walker.done if side.board == 4}
    session.change(corrections.spoil(session, 1, "split").events)  # a left; the spare 4 is a right
    assert {side for side in session.walker.done if side.board == 4} == {
        Side(4, side.end.other, side.tail, side.faces) for side in done
    }


def test_taking_it_back_makes_it_what_it_was(store: Store) -> None:
    session = begun(store, made(Hand.RIGHT, wide_leads=True))
    cut_on(session, Wood(), 10)
    before = session.walker.situation()
    session.change(corrections.spoil(session, 1, "split").events)
    session.undo()
    assert session.walker.situation() == before
    assert Session(store, store.batch(session.id)).walker.situation() == before


def test_a_spare_of_the_boards_own_hand_is_taken_first_and_needs_no_letters(store: Store) -> None:
    session = begun(store, made(Hand.RIGHT, wide_leads=True))
    go_to(session, StepKind.CUT)
    correction = corrections.spoil(session, 2, "split")
    assert "letter it anew" not in " ".join(correction.lines)
    assert "relettered" not in dict(correction.events[0][1])


def test_a_part_that_is_not_handed_has_no_other_hand(store: Store) -> None:
    session = begun(store, uneven(tools(0.9, 80.0, Hand.RIGHT, None, wide_leads=True)))
    go_to(session, StepKind.CUT)
    back = next(board.number for board in session.job.boards if board.label == "back 1")
    session.change(corrections.spoil(session, back, "split").events)
    assert session.job.board(back + 1).spare is False


def test_a_cut_from_before_a_board_was_lettered_anew_is_not_taken_for_another_side(store: Store) -> None:
    session = begun(store, made(Hand.RIGHT, wide_leads=True))
    while not any(event.kind == StepKind.CUT and event.data["number"] == 4 for event in session.events):
        session.complete(upcoming(session))
    spoiled = corrections.spoil(session, 1, "split")
    session.change(spoiled.events)
    assert spoiled.events[0][1]["relettered"]
    cut = next(event for event in session.events if event.kind == StepKind.CUT and event.data["number"] == 4)
    before = session.walker.situation()
    for correct in (
        lambda: corrections.take_back(session, cut),
        lambda: corrections.cut_wrong(session, cut, Mistake.OFF_LINE, 0.5, plain),
    ):
        with pytest.raises(CoachError, match="was lettered anew after that cut"):
            correct()
    assert session.walker.situation() == before
    session.undo()
    assert corrections.take_back(session, cut).events
