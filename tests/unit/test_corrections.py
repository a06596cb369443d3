"""Putting right what was recorded: cuts taken back, cuts that went wrong, and records from before all that."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from support.small_batches import BEFORE_FIRST_CUT, JOB, SETTINGS, Clock, go, go_to, upcoming
from support.small_jobs import job, joint, part, plain, shop

from coach.ground.errors import CoachError
from coach.ground.terms import Edge, End, Lie, Side, Turn
from coach.plan.deciding.decide import decide
from coach.plan.judging.mistakes import Mistake, Verdict
from coach.plan.steps import Step, StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan
from coach.record.batch import corrections
from coach.record.batch.events import fold, start_events, step_of
from coach.record.batch.session import Session, start
from coach.record.batch.taking_back import undone_numbers
from coach.record.disk.store import Store
from coach.record.rows import Event, NewEvent, Tally
from coach.telling.log.lines import log_events

FIRST = Side(1, End.A, 2, Edge.TOP)
"""The first cut of the batch: its mark, 30.5 mm, is the largest."""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path, clock=Clock()) as opened:
        yield opened


@pytest.fixture
def session(store: Store) -> Session:
    """Two boards with two even tails at both ends, of which nothing is done."""
    return start(store, "drawers", JOB, SETTINGS, "mm")


def cuts(session: Session) -> list[Event]:
    """The cuts that stand, the earliest first."""
    undone = undone_numbers(session.events)
    return [event for event in session.events if event.kind == StepKind.CUT and event.number not in undone]


def after_cuts(session: Session, number: int) -> Event:
    """The latest of so many cuts from the beginning on."""
    while len(cuts(session)) < number:
        go(session, 1)
    return cuts(session)[-1]


def wrong(session: Session, event: Event, mistake: Mistake, off_mm: float = 0.0) -> tuple[Verdict, list[str]]:
    """Records that a cut went wrong; what came of it, and the kinds of events that say so."""
    judgement, correction = corrections.cut_wrong(session, event, mistake, off_mm, plain)
    session.change(correction.events)
    return judgement.verdict, [kind for kind, _ in correction.events]


def asked_for(session: Session, side: Side) -> Step:
    """The one step of the plan from here that asks for a side."""
    (step,) = (step for step in plan(session.walker.situation()) if step.side == side)
    return step


def log(store: Store, session: Session) -> list[dict[str, Any]]:
    return list(log_events(store, [store.batch(session.id)]))


def kept(event: NewEvent) -> Any:
    return event[1]


def test_an_early_cut_taken_back_is_asked_for_again_at_its_setting(session: Session) -> None:
    first = after_cuts(session, 1)
    go_to(session, StepKind.CLEAR)
    session.change(corrections.take_back(session, first).events)
    step = asked_for(session, FIRST)
    assert step.setting == first.data["setting"]
    assert upcoming(session).kind is StepKind.SET_FENCE
    assert upcoming(session).setting == first.data["setting"]


def test_a_cut_taken_back_at_the_setting_that_stands_needs_no_fence_move(session: Session) -> None:
    first = after_cuts(session, 1)
    go(session, 3)
    session.change(corrections.take_back(session, first).events)
    assert upcoming(session).side == FIRST


def test_a_cut_taken_back_lowers_the_tally(session: Session, store: Store) -> None:
    first = after_cuts(session, 1)
    go(session, 3)
    session.change(corrections.take_back(session, first).events)
    assert store.batch(session.id).cuts_done == 3


def test_a_cut_cant_be_taken_back_twice(session: Session) -> None:
    first = after_cuts(session, 1)
    session.change(corrections.take_back(session, first).events)
    with pytest.raises(CoachError, match="taken back already"):
        corrections.take_back(session, first)


def test_a_cut_cant_be_taken_back_once_the_waste_of_its_end_is_cleared(session: Session) -> None:
    go_to(session, StepKind.CLEAR)
    go(session, 1)
    with pytest.raises(CoachError, match="side 1, end A: its waste is cleared, and the stop would catch"):
        corrections.take_back(session, cuts(session)[0])


def test_a_cut_at_the_end_that_isnt_cleared_yet_can_still_be_taken_back(session: Session) -> None:
    go_to(session, StepKind.CLEAR)
    go(session, 1)
    at_end_b = next(event for event in cuts(session) if (event.data["number"], event.data["end"]) == (1, "B"))
    assert corrections.take_back(session, at_end_b).events


def test_a_cut_of_a_board_that_is_out_cant_be_taken_back(session: Session) -> None:
    first = after_cuts(session, 1)
    session.change(corrections.drop(session, 1).events)
    with pytest.raises(CoachError, match="side 1 is out of the batch"):
        corrections.take_back(session, first)


def test_what_is_no_step_cant_be_taken_back(session: Session) -> None:
    session.change(corrections.label(session, 1, "left front").events)
    with pytest.raises(CoachError, match="only a step can be taken back"):
        corrections.take_back(session, session.events[-1])


def test_a_cut_cant_be_taken_back_for_a_blade_that_doesnt_fit_its_socket(store: Store) -> None:
    narrow = part({End.A: joint((5.0, 29.0))}, label="narrow")  # a socket of 1 mm
    wide = part({End.A: joint((5.0, 30.5))}, label="wide")
    made = job([narrow, wide])
    session = start(store, "drawers", made, decide(made), "mm")
    session.change(corrections.finish_first(session, 1).events)
    while session.walker.board_cuts_left(1):
        go(session, 1)
    session.change(corrections.change_shop(session, shop(kerf_mm=1.4), plain).events)
    with pytest.raises(CoachError, match="the blade doesn't fit"):
        corrections.take_back(session, cuts(session)[0])


@pytest.mark.parametrize(
    ("mistake", "off_mm", "verdict", "kinds"),
    [
        (Mistake.OFF_LINE, 0.0, Verdict.WITHIN, ["wrong"]),
        (Mistake.OFF_LINE, -0.6, Verdict.CUT_AGAIN, ["wrong", "undo"]),
        (Mistake.OFF_LINE, 0.6, Verdict.MENDABLE, ["wrong", "mend"]),
        (Mistake.WRONG_SIDE, 0.0, Verdict.MENDABLE, ["wrong", "mend"]),
        (Mistake.TOO_DEEP, 0.5, Verdict.MENDABLE, ["wrong", "mend"]),
        (Mistake.TOO_DEEP, 5.0, Verdict.SPOILED, ["wrong", "spoil"]),
        (Mistake.WRONG_EDGE, 0.0, Verdict.COUNTS_AS, ["wrong", "undo", "cut"]),
        (Mistake.WRONG_END, 0.0, Verdict.COUNTS_AS, ["wrong", "undo", "cut"]),
    ],
)
def test_what_is_recorded_of_a_cut_that_went_wrong(
    session: Session, mistake: Mistake, off_mm: float, verdict: Verdict, kinds: list[str]
) -> None:
    assert wrong(session, after_cuts(session, 1), mistake, off_mm) == (verdict, kinds)


def test_a_cut_that_counts_as_one_that_is_made_already_is_only_taken_back(session: Session) -> None:
    latest = after_cuts(session, 4)
    assert wrong(session, latest, Mistake.WRONG_EDGE) == (Verdict.COUNTS_AS, ["wrong", "undo"])


def test_a_cut_that_went_wrong_keeps_how_and_what_came_of_it(session: Session) -> None:
    _, correction = corrections.cut_wrong(session, after_cuts(session, 1), Mistake.OFF_LINE, -0.6, plain)
    data = kept(correction.events[0])
    assert (data["board"], data["mistake"], data["off_mm"], data["verdict"]) == (
        "side 1",
        "off the line",
        -0.6,
        "cut again",
    )


def test_a_kerf_in_the_waste_is_asked_for_again(session: Session) -> None:
    latest = after_cuts(session, 2)
    wrong(session, latest, Mistake.OFF_LINE, -0.6)
    assert upcoming(session).side == step_of(latest).side


def test_a_cut_that_counts_as_another_leaves_only_the_one_that_was_meant(session: Session) -> None:
    wrong(session, after_cuts(session, 1), Mistake.WRONG_EDGE)
    assert session.walker.done == {Side(1, End.A, 1, Edge.BOTTOM)}
    assert upcoming(session).side == FIRST


def test_a_spoiled_board_is_out_and_its_cuts_arent_asked_for(session: Session) -> None:
    wrong(session, after_cuts(session, 1), Mistake.TOO_DEEP, 5.0)
    assert session.walker.out == {1}
    assert {step.side.board for step in plan(session.walker.situation()) if step.side is not None} == {2}


def test_a_mended_mark_is_the_one_that_the_board_has_from_then_on(session: Session) -> None:
    wrong(session, after_cuts(session, 1), Mistake.OFF_LINE, 0.6)
    ends = session.job.pattern_of(1).ends
    assert ends[End.A].top_marks_mm == pytest.approx((5.0, 31.1))
    assert ends[End.B].top_marks_mm == (5.0, 30.5)
    assert session.job.pattern_of(2).ends[End.A].top_marks_mm == (5.0, 30.5)


def test_a_mended_cut_taken_back_is_asked_for_at_the_mark_that_was_laid_out(session: Session) -> None:
    latest = after_cuts(session, 1)
    wrong(session, latest, Mistake.OFF_LINE, 0.6)
    session.change(corrections.take_back(session, latest).events)
    side = step_of(latest).side
    assert side is not None
    step = asked_for(session, side)
    assert (step.mark_mm, step.setting) == (latest.data["mark_mm"], latest.data["setting"])


def test_a_mended_cut_that_is_in_the_waste_after_all_is_asked_for_where_it_was_laid_out(session: Session) -> None:
    latest = after_cuts(session, 1)
    wrong(session, latest, Mistake.OFF_LINE, 0.6)
    wrong(session, latest, Mistake.OFF_LINE, -0.6)
    assert upcoming(session).mark_mm == latest.data["mark_mm"]


def test_a_mended_cut_that_was_right_after_all_has_its_mark_where_it_was_laid_out(session: Session) -> None:
    latest = after_cuts(session, 1)
    wrong(session, latest, Mistake.OFF_LINE, 0.6)
    wrong(session, latest, Mistake.OFF_LINE, 0.0)
    assert session.job.pattern_of(1).ends == JOB.pattern_of(1).ends


def test_a_board_lies_as_a_cut_that_is_to_be_made_again_has_left_it(session: Session) -> None:
    latest = after_cuts(session, 2)
    assert step_of(latest).turn is Turn.EDGE_FOR_EDGE
    wrong(session, latest, Mistake.OFF_LINE, -0.6)
    assert upcoming(session).turn is None


@pytest.mark.parametrize(
    ("mistake", "lies"),
    [(Mistake.WRONG_EDGE, Lie(End.A, Edge.BOTTOM)), (Mistake.WRONG_END, Lie(End.B, Edge.TOP))],
)
def test_a_board_lies_as_the_mistake_has_left_it(store: Store, mistake: Mistake, lies: Lie) -> None:
    # Either way the kerf is 5 mm from an edge, in a half-pin socket of 9 mm or more.
    ends = {End.A: joint((5.0,), (9.0,)), End.B: joint((12.0,), (11.0,))}
    made = job([part(ends, width_mm=40.0), part(ends, width_mm=40.0, label="back")])
    session = start(store, "drawers", made, decide(made), "mm")
    while upcoming(session).side != Side(1, End.A, 1, Edge.TOP):
        go(session, 1)
    go(session, 1)
    assert wrong(session, cuts(session)[-1], mistake) == (Verdict.CUT_AGAIN, ["wrong", "undo"])
    assert session.walker.lies[1] == lies


def test_a_board_put_down_otherwise_since_lies_so_still(session: Session) -> None:
    first = after_cuts(session, 1)
    after_cuts(session, 3)
    lies = session.walker.lies[1]
    assert wrong(session, first, Mistake.WRONG_EDGE)[0] is Verdict.COUNTS_AS
    assert session.walker.lies[1] == lies


def test_only_a_cut_can_have_gone_wrong(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT)
    with pytest.raises(CoachError, match="only a cut"):
        corrections.cut_wrong(session, session.events[-1], Mistake.OFF_LINE, 0.5, plain)


def test_a_change_of_the_batch_cant_have_gone_wrong(session: Session) -> None:
    session.change(corrections.label(session, 1, "left front").events)
    with pytest.raises(CoachError, match="only a cut"):
        corrections.cut_wrong(session, session.events[-1], Mistake.OFF_LINE, 0.5, plain)


def test_a_cut_of_a_board_that_is_out_isnt_judged(session: Session) -> None:
    first = after_cuts(session, 1)
    session.change(corrections.drop(session, 1).events)
    with pytest.raises(CoachError, match="side 1 is out of the batch"):
        corrections.cut_wrong(session, first, Mistake.OFF_LINE, 0.6, plain)


def test_a_cut_that_is_taken_back_cant_have_gone_wrong(session: Session) -> None:
    first = after_cuts(session, 1)
    session.change(corrections.take_back(session, first).events)
    with pytest.raises(CoachError, match="taken back already"):
        corrections.cut_wrong(session, first, Mistake.OFF_LINE, 0.6, plain)


def test_the_log_shows_a_cut_that_was_taken_back_as_undone(session: Session, store: Store) -> None:
    first = after_cuts(session, 1)
    go(session, 1)
    session.change(corrections.take_back(session, first).events)
    assert [line["undone"] for line in log(store, session) if line["kind"] == "cut"] == [True, False]


def test_the_log_says_why_a_cut_was_taken_back(session: Session, store: Store) -> None:
    first = after_cuts(session, 1)
    session.change(corrections.take_back(session, first, "the phone rang").events)
    line = log(store, session)[-1]
    assert (line["kind"], line["event_undone"], line["reason"]) == ("undo", first.number, "the phone rang")


def test_the_log_says_how_a_cut_went_wrong(session: Session, store: Store) -> None:
    first = after_cuts(session, 1)
    wrong(session, first, Mistake.OFF_LINE, -0.6)
    told, undo = log(store, session)[-2:]
    assert (told["kind"], told["board"], told["mistake"]) == ("wrong", "side 1", "off the line")
    assert (undo["event_undone"], undo["reason"]) == (first.number, "off the line")


def test_the_log_says_why_a_board_was_spoiled(session: Session, store: Store) -> None:
    session.change(corrections.spoil(session, 1, "split along a check").events)
    line = log(store, session)[-1]
    assert (line["kind"], line["board"], line["reason"]) == ("spoil", "side 1", "split along a check")


def without_own(events: list[NewEvent]) -> list[NewEvent]:
    """As batches were begun when no board could have settings of its own."""
    (start_kind, begun), (settings_kind, decided) = events
    assert decided["own"] == {}
    return [
        (start_kind, begun),
        (settings_kind, {key: value for key, value in decided.items() if key != "own"}),
    ]


def test_a_batch_begun_before_boards_could_have_settings_of_their_own_folds_as_ever() -> None:
    events = without_own(start_events(JOB, SETTINGS, "mm"))
    old = [Event(number, "2031-03-04T09:30:00.000-05:00", *event) for number, event in enumerate(events, 1)]
    assert fold(old).situation() == beginning(JOB, SETTINGS)


def test_a_batch_begun_before_boards_could_have_settings_of_their_own_can_be_corrected(store: Store) -> None:
    row = store.start(
        "old", without_own(start_events(JOB, SETTINGS, "mm")), Tally(JOB.cuts, 0, JOB.cuts, finished=False)
    )
    old = Session(store, row)
    wrong(old, after_cuts(old, 1), Mistake.OFF_LINE, 0.6)
    assert Session(store, store.batch(old.id)).walker.situation() == old.walker.situation()
    assert list(old.walker.settings.own) == [1]


def test_a_cut_that_sends_the_fence_back_to_a_setting_that_was_done_says_so(session: Session) -> None:
    go_to(session, StepKind.CUT)
    first = session.walker.fence.setting
    assert first is not None
    go(session, 1)
    cut = session.events[-1]
    assert corrections.take_back(session, cut).lines == ()
    while session.walker.fence.setting == first:
        go(session, 1)
    assert corrections.take_back(session, cut).lines == (
        f"The fence goes back to setting {first + 1} for it, once more than planned.",
    )
