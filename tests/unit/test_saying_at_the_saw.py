"""What is said where it matters at saw and bench: the stop's reach, switching off, an end with marks of its own."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from support.mid_batch import begun, even, tools
from support.small_batches import Ticking, go, go_to
from support.small_jobs import plain

from coach.ground.terms import End, Hand
from coach.plan.judging.mistakes import Mistake, Verdict
from coach.plan.steps import OVER, StepKind
from coach.record.batch import corrections
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.talk.signs import only_ascii
from coach.talk.warning import most_needed, reminders_at
from coach.telling.phrases import Saying
from coach.telling.steps.step import tell
from coach.trade.reminders import Signal

MM = Saying("mm", None)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "record", clock=Ticking()) as opened:
        yield opened


@pytest.fixture
def session(store: Store) -> Session:
    return begun(store, even(tools(0.9, 80.0, Hand.RIGHT, None, wide_leads=True)))


def test_where_the_fence_is_set_it_is_said_how_far_the_stop_may_reach_and_nowhere_else(session: Session) -> None:
    # The smallest mark, 5 mm, leaves the stop 5 · 8/√65 − 0.9 = 4.06 mm.
    fence = go_to(session, StepKind.SET_FENCE)
    said = [reminder for reminder in reminders_at(session, fence) if "stop" in reminder.text]
    assert [(reminder.signal, reminder.text) for reminder in said] == [
        (Signal.WARNING, "A stop 4.06 mm past the jig's tip meets the blade. Keep it shorter.")
    ]
    assert most_needed(fence) == 2
    assert reminders_at(session, fence)[1] == said[0]
    cut = go_to(session, StepKind.CUT)
    assert not any("jig's tip" in reminder.text for reminder in reminders_at(session, cut))


def test_right_after_the_last_cut_the_saw_is_switched_off_in_a_step_of_its_own(session: Session) -> None:
    while session.walker.cuts_left_in_all:
        go(session, 1)
    step = session.next()
    assert step is not None
    assert (step.kind, step.topic) == (StepKind.PREPARE, OVER)
    assert "switch off" in tell(session.walker, step, MM).headline
    assert "wait until it stands" in reminders_at(session, step)[0].text
    go(session, 1)
    following = session.next()
    assert following is not None
    assert following.kind is StepKind.CLEAR


def test_an_end_that_was_mended_is_told_apart_where_its_pins_are_marked_and_sawn(session: Session) -> None:
    go_to(session, StepKind.CUT)
    go(session, 1)
    judgement, correction = corrections.cut_wrong(session, session.events[-1], Mistake.OFF_LINE, 0.6, plain)
    assert judgement.verdict is Verdict.MENDABLE
    session.change(correction.events)
    told = {}
    while (step := session.next()) is not None:
        if step.board is not None and step.end is not None:
            told[step.kind, step.board, step.end] = " ".join(tell(session.walker, step, MM).lines)
        session.complete(step)
    for kind in (StepKind.TRANSFER, StepKind.SAW_PIN):
        own = [key[1:] for key, words in told.items() if key[0] is kind and "not cut in a gang" in words]
        assert own == [(1, End.A)]


@pytest.mark.parametrize(
    ("name", "value", "plain_signs"),
    [("LC_ALL", "C", True), ("LANG", "POSIX", True), ("LANG", "de_DE.UTF-8", False), ("LANG", "", False)],
)
def test_a_locale_of_c_asks_for_ascii_though_the_stream_could_do_more(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str, plain_signs: bool
) -> None:
    for each in ("LC_ALL", "LANG"):
        monkeypatch.delenv(each, raising=False)
    monkeypatch.setenv(name, value)
    assert only_ascii(io.TextIOWrapper(io.BytesIO(), encoding="utf-8")) is plain_signs
