"""What the last screen says of a batch, worked by hand."""

from __future__ import annotations

from datetime import timedelta

from support.mid_batch import begun, even, tools
from support.small_batches import Clock, go, go_to

from coach.ground.terms import Hand
from coach.plan.steps import StepKind
from coach.record.batch import corrections
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.telling.phrases import Saying
from coach.telling.steps.done import done_lines

MM = Saying("mm", None)


def finished(session: Session) -> list[str]:
    while (step := session.next()) is not None:
        session.complete(step)
    return list(done_lines(session.walker, session.events, MM))


def test_boards_cuts_spoiled_boards_and_spares_left_are_counted(store: Store) -> None:
    session = begun(store, even(tools(0.9, 80.0, Hand.RIGHT, None, wide_leads=True)))
    session.change(corrections.add_boards(session, 1, 1, spare=True)[1].events)
    go_to(session, StepKind.CUT)
    session.change(corrections.spoil(session, 1, "split").events)
    # Two boards and two spares: one is spoiled, a spare takes its place; three boards of 8 cuts each.
    assert finished(session)[0] == "2 boards, 24 cuts, 1 board spoiled, 1 spare left."


def test_a_saw_that_has_been_off_for_long_is_not_asked_to_be_switched_off(store: Store) -> None:
    session = begun(store, even(tools(0.9, 80.0, Hand.RIGHT, None, wide_leads=True)))
    assert not any("Saw off" in line for line in finished(session))


def test_the_time_at_it_leaves_breaks_out_and_counts_the_days(store: Store, clock: Clock) -> None:
    session = begun(store, even(tools(0.9, 80.0, Hand.RIGHT, None, wide_leads=True)))
    clock.time += timedelta(minutes=9)
    go(session, 1)
    clock.time += timedelta(hours=24)
    go(session, 1)
    clock.time += timedelta(minutes=6)
    assert "15 min at it, on 2 days, breaks left out." in finished(session)


def test_what_the_scrap_cut_showed_of_the_scale_is_said_as_it_goes_into_the_shop_file(store: Store) -> None:
    session = begun(store, even(tools(0.9, 80.0, Hand.RIGHT, "1/2", wide_leads=True)))
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.8)
    # 0.8 mm along the end are 0.79 mm at the fence: so much less is every reading, and the zero of 3 mm too.
    said = finished(session)
    assert any('zero = "2.21 mm"' in line and "0.79 mm too much" in line for line in said), said


def test_a_scale_that_reads_right_is_not_spoken_of(store: Store) -> None:
    session = begun(store, even(tools(0.9, 80.0, Hand.RIGHT, "1/2", wide_leads=True)))
    assert not any("zero" in line for line in finished(session))
