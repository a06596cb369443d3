"""What puts the set-up in doubt: breaks, and scrap cuts that are measured."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from support.small_batches import BEFORE_FIRST_CUT, JOB, MORNING, SETTINGS, Clock, go, go_to, upcoming
from support.small_jobs import shop, two_tails

from coach.plan.deciding.decide import decide
from coach.plan.steps import Step, StepKind
from coach.record.batch.events import step_of
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store

COSINE = 8 / 65**0.5  # of the slope 1:8


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    with Store.open(tmp_path, clock=clock) as opened:
        yield opened


@pytest.fixture
def session(store: Store) -> Session:
    return start(store, "drawers", JOB, SETTINGS, "mm")


@pytest.mark.parametrize(
    ("moment", "doubted"),
    [
        (MORNING + timedelta(minutes=9), False),
        (MORNING + timedelta(minutes=10), False),
        (MORNING + timedelta(minutes=11), True),
        (MORNING - timedelta(minutes=1), True),
        (MORNING + timedelta(days=1), True),
        ((MORNING + timedelta(minutes=9)).astimezone(UTC), False),
        ((MORNING + timedelta(minutes=11)).astimezone(UTC), True),
    ],
)
def test_the_fence_is_doubted_after_a_long_break_or_if_the_clock_went_back(
    session: Session, moment: datetime, doubted: bool
) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    assert session.come_back(moment) is doubted
    assert session.walker.fence.confirmed is not doubted


def test_the_fence_is_doubted_once_midnight_has_passed(store: Store, clock: Clock) -> None:
    clock.time = MORNING.replace(hour=23, minute=58)
    session = start(store, "late", JOB, SETTINGS, "mm")
    go(session, BEFORE_FIRST_CUT + 1)
    assert not session.come_back(clock.time + timedelta(minutes=1))
    assert session.come_back(clock.time + timedelta(minutes=3))


def test_what_comes_first_after_a_break_is_the_set_up_the_fence_and_a_scrap_cut(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    cut = upcoming(session)
    session.come_back(MORNING + timedelta(hours=1))
    kinds = []
    while upcoming(session).kind is not StepKind.CUT:
        kinds.append(upcoming(session).kind)
        go(session, 1)
    assert kinds == [StepKind.PREPARE, StepKind.SET_FENCE, StepKind.CHECK]
    assert upcoming(session) == cut


def test_a_fence_already_doubted_is_not_doubted_again(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    assert session.come_back(MORNING + timedelta(hours=1))
    events = len(session.events)
    assert not session.come_back(MORNING + timedelta(hours=2))
    assert len(session.events) == events


def test_before_the_fence_was_ever_set_there_is_nothing_to_doubt(session: Session) -> None:
    go(session, 2)
    before = session.walker.situation()
    assert not session.come_back(MORNING + timedelta(days=1))
    assert session.walker.situation() == before


def test_once_all_cuts_are_done_no_break_matters(session: Session) -> None:
    go_to(session, StepKind.CLEAR)
    before = session.walker.situation()
    assert not session.come_back(MORNING + timedelta(days=2))
    assert session.walker.situation() == before


def test_undo_after_a_break_takes_back_the_cut_before_it_and_the_fence_stays_doubted(session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 2)
    cut = session.last_step()
    session.come_back(MORNING + timedelta(hours=1))
    assert [step_of(event) for event in session.undo()] == [cut]
    assert len(session.walker.done) == 1
    assert not session.walker.fence.confirmed


def test_a_scrap_cut_found_right_changes_no_reading(session: Session) -> None:
    go_to(session, StepKind.CHECK)
    before = session.walker.reading_mm(0)
    go(session, 1)
    assert session.walker.reading_mm(0) == before
    assert upcoming(session).kind is StepKind.CUT


def test_a_scrap_cut_too_far_from_the_edge_has_the_fence_moved_nearer_by_as_much_as_it_slants(
    session: Session,
) -> None:
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    before = session.walker.reading_mm(0)
    session.complete(check, measured_mm=check.mark_mm + 0.64)
    # By hand: 0.64 · 8/√65 = 0.63506.
    assert session.walker.fence.offset_mm == pytest.approx(-0.63506, abs=5e-6)
    assert session.walker.reading_mm(0) == pytest.approx(before - 0.63506, abs=5e-6)
    assert session.walker.move_mm(0) == pytest.approx(-0.63506, abs=5e-6)


def test_after_a_scrap_cut_that_is_off_the_fence_is_set_and_a_scrap_cut_made_again(session: Session) -> None:
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.64)
    assert upcoming(session) == Step(StepKind.SET_FENCE, setting=0, fence_mm=session.walker.stands_mm(0))
    go(session, 1)
    assert session.walker.move_mm(0) == 0
    assert upcoming(session) == check
    go(session, 1)
    assert upcoming(session).kind is StepKind.CUT


def test_a_second_scrap_cut_that_is_off_adds_to_the_first(session: Session) -> None:
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.64)
    go(session, 1)
    session.complete(upcoming(session), measured_mm=check.mark_mm - 0.24)
    # By hand: (−0.64 + 0.24) · 8/√65 = −0.39691.
    assert session.walker.fence.offset_mm == pytest.approx(-0.39691, abs=5e-6)


def test_a_scrap_cut_off_by_less_than_matters_is_kept_in_mind_without_a_move(session: Session) -> None:
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.08)
    assert upcoming(session).kind is StepKind.CUT
    # The next setting's reading makes up for it.
    assert session.walker.fence.offset_mm == pytest.approx(-0.08 * COSINE)


def test_undo_of_a_scrap_cut_forgets_what_it_showed(session: Session) -> None:
    check = go_to(session, StepKind.CHECK)
    before = session.walker.situation()
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.64)
    session.undo()
    assert session.walker.situation() == before


@pytest.mark.parametrize("off", [-1.3, 0.05, 0.64])
@pytest.mark.parametrize("wide_leads", [True, False])
def test_one_measured_scrap_cut_gives_the_reading_of_every_other_mark(
    store: Store, off: float, wide_leads: bool
) -> None:
    # R at which a mark m fell; every other mark m' then has R + (m' − m) · cos: kerf and jig needn't be known.
    job = two_tails(shop(wide_leads=wide_leads, zero_mm=3.0))
    session = start(store, "measured", job, decide(job), "mm")
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    made_at, fell_at = session.walker.reading_mm(0), check.mark_mm + off
    session.complete(check, measured_mm=fell_at)
    # Sides 5 and 30.5 mm from the edge that they face; from the edge at a narrow-leading jig 52 and 26.5.
    marks = (30.5, 5.0) if wide_leads else (52.0, 26.5)
    for setting, mark in enumerate(marks):
        assert session.walker.reading_mm(setting) == pytest.approx(made_at + (mark - fell_at) * COSINE)
