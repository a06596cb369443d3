"""What is said of the ends: which is which, and how far the baselines are from them, worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console
from support.mid_batch import begun
from support.small_batches import go_to
from support.small_jobs import job, joint, part, shop

from coach.ground.terms import End, Joint
from coach.joint.layout import EndLayout
from coach.plan.changing.changes import mend, mended_settings
from coach.plan.deciding.decide import decide
from coach.plan.job import Job, make_job
from coach.plan.steps import FIRST_TOPICS, Step, StepKind
from coach.plan.walking.alike_ends import first_topics
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker, plan
from coach.record.batch.events import fold
from coach.record.batch.session import start
from coach.record.disk.store import Store
from coach.talk.warning import reminders_at
from coach.telling.phrases import Saying
from coach.telling.plan.page import plan_page
from coach.telling.steps.ends import board_words
from coach.telling.steps.step import tell

MM = Saying("mm", None)
FRONT = replace(joint((6.0, 30.0), mates_with_mm=20.0), joint=Joint.HALF_BLIND, lap_mm=5.0)
BACK = joint((6.0, 30.0))


def sides() -> Job:
    """Lefts and rights: half-blind in front, 20 − 5 = 15 mm deep; through at the back, 12 mm."""
    return job([part({End.A: FRONT, End.B: BACK}, boards=2, handed=True)])


def prepared(made: Job) -> list[str]:
    """What is said when the ends are prepared."""
    walker = Walker(beginning(made, decide(made)))
    topics = [topic for topic in first_topics(made) if topic.startswith("ends ")]
    return ["\n".join(tell(walker, Step(StepKind.PREPARE, topic=topic), MM).lines) for topic in topics]


def test_preparing_says_how_far_each_hands_baselines_are_square_to_the_end_and_which_end_is_which() -> None:
    (said,) = prepared(sides())
    assert said.splitlines()[:5] == [
        "Baseline from the end, square to it:",
        "side, left: A 15 mm (half-blind), B 12 mm.",
        "side, right: A 12 mm, B 15 mm (half-blind).",
        "Outside to you, top edge up: A is at the left, B at the right.",
        "On rights, A and B change places.",
    ]


def test_ends_that_are_alike_are_said_once() -> None:
    ends = {End.A: BACK, End.B: BACK}
    made = job([part(ends, label="side"), part(ends, label="back")])
    (said,) = prepared(made)
    assert "side, back: A and B 12 mm." in said


def test_each_kind_of_ends_has_a_step_of_its_own_and_nothing_is_said_of_hands_where_there_are_none() -> None:
    made = job([part({End.A: BACK}, label="side"), part({End.A: FRONT}, label="back")])
    first, second = prepared(made)
    assert "side: A 12 mm." in first
    assert "back: A 15 mm (half-blind)." in second
    assert "On rights" not in first + second
    walker = Walker(beginning(made, decide(made)))
    titles = [tell(walker, Step(StepKind.PREPARE, topic=f"ends {number}"), MM).headline for number in (1, 2)]
    assert titles == ["Ends and baselines: side", "Ends and baselines: back"]


def test_the_length_of_the_cut_is_not_the_distance_of_the_baseline() -> None:
    said = prepared(sides())[0]
    along = 15 / math.cos(math.atan(1 / 8))
    assert f"{along:.2f}" == "15.12"
    assert "15.12" not in said


def test_every_first_topic_is_prepared_in_turn_with_the_ends_after_the_boards() -> None:
    made = sides()
    topics = [step.topic for step in plan(beginning(made, decide(made))) if step.kind is StepKind.PREPARE]
    assert topics == ["saw", "blade", "guard", "boards", "ends 1", "yourself", "over"]


def test_a_batch_from_before_the_ends_were_prepared_is_asked_for_what_it_was(tmp_path: Path) -> None:
    made = sides()
    with Store.open(tmp_path) as store:
        session = start(store, "old", made, decide(made), "mm")
        first, *rest = session.events
        old = replace(first, data={key: value for key, value in first.data.items() if key != "topics"})
        assert fold([old, *rest]).unprepared[:5] == list(FIRST_TOPICS)
        assert "ends 1" in fold([first, *rest]).unprepared


@pytest.mark.parametrize(("number", "ends", "right"), [(1, ("15 mm", "12 mm"), False), (2, ("12 mm", "15 mm"), True)])
def test_a_boards_page_says_its_baselines_and_its_hand(number: int, ends: tuple[str, str], right: bool) -> None:
    said = " ".join(board_words(sides(), number, MM))
    assert said.index(f"A {ends[0]}") < said.index(f"B {ends[1]}")
    assert ("This is a right" in said) is right


def test_the_plan_says_the_baselines_the_ends_and_how_far_the_stop_may_reach() -> None:
    made = sides()
    settings = decide(made)
    page = plan_page(made, settings, list(plan(beginning(made, settings))), MM, "title")
    console = Console(width=100, record=True)
    with console.capture() as captured:
        console.print(page)
    said = " ".join(captured.get().split())
    assert "side, left: A 15 mm (half-blind), B 12 mm." in said
    assert "On rights, A and B change places." in said
    # 6 · 8/√65 − 0.9 = 5.0537 mm, said no larger than it is.
    assert "must reach less than 5.05 mm past the jig's tip, or the blade meets it." in said


def bench(made: Job, kind: StepKind, end: End) -> str:
    walker = Walker(beginning(made, decide(made)))
    told = tell(walker, Step(kind, board=1, end=end), MM)
    return " ".join((told.headline, *told.lines))


def test_the_pins_of_a_half_blind_end_are_marked_to_the_lap_line_on_the_pin_boards_end() -> None:
    said = bench(sides(), StepKind.TRANSFER, End.A)
    # The lap line lies a tail length, 15 mm, from the pin board's inside face; its baseline the tail board's 10 mm.
    assert "Scribe on the pin board's end the lap line, 15 mm from its inside face" in said
    assert "on that face the baseline, 10 mm from the end" in said
    assert "tails' ends to the lap line" in said
    assert "inside to you" in said


def test_the_pins_of_a_through_end_are_marked_flush_with_the_outside_face() -> None:
    said = bench(sides(), StepKind.TRANSFER, End.B)
    assert "baseline on both faces, 10 mm from its end" in said
    assert "tails' ends flush with its outside face" in said
    assert "inside down" in said
    assert "lap" not in said


@pytest.mark.parametrize("kind", [StepKind.CLEAR, StepKind.TRANSFER, StepKind.SAW_PIN, StepKind.FIT])
def test_every_step_at_a_half_blind_end_says_that_it_is_one(kind: StepKind) -> None:
    assert "half-blind" in bench(sides(), kind, End.A)
    assert "alf-blind" not in bench(sides(), kind, End.B)


def test_where_a_smaller_mark_comes_late_the_stops_limit_gets_less_with_it(tmp_path: Path) -> None:
    made = make_job([*job([part({End.A: joint((8.0, 30.5))}, spares=1)]).layouts], shop())
    with Store.open(tmp_path) as store:
        session = begun(store, made)
        fence = go_to(session, StepKind.SET_FENCE)
        assert any("A stop 7.03 mm past" in said.text for said in reminders_at(session, fence))  # 8·cos − 0.9 = 7.038
        narrower: EndLayout = joint((6.0, 30.5))
        situation = session.walker.situation()
        now = mend(situation, 1, End.A, narrower, mended_settings(situation, 1, End.A, narrower))
        assert now.settings.stop_room_mm(now.job, 0) == pytest.approx(6 * 8 / math.sqrt(65) - 0.9)
