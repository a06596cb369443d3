"""The walk through a plan that changes fence or jig on the way: what is asked, said, recorded and refused."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from support.rigged_jobs import fence, jig, panel, shop
from support.small_batches import Clock, go, go_to
from support.small_jobs import plain

from coach.ground.errors import CoachError
from coach.ground.lengths import Graduation
from coach.ground.terms import Hand
from coach.plan.deciding.decide import decide
from coach.plan.helping.stop_block import stop_moves, stops
from coach.plan.job import Job, make_job
from coach.plan.steps import StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan
from coach.record.batch import corrections
from coach.record.batch.events import fold
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.record.exchange import export_batch, import_batch, write_new
from coach.telling.phrases import Saying
from coach.telling.plan.as_json import plan_as_json
from coach.telling.plan.page import plan_page, printer
from coach.telling.plan.why import why_lines
from coach.telling.steps.step import tell

SAYING = Saying("mm", None)
SCALE = Graduation(Fraction(1, 2), "mm")
TWO_JIGS = shop([fence(Hand.RIGHT, 250.0)], [jig("wide one", 80.0), jig("narrow one", 30.0, wide_leads=False)])
TWO_SIDES = shop([fence(Hand.RIGHT, 330.0), fence(Hand.LEFT, 200.0)], [jig("one in eight", 80.0)], throat_mm=285.0)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path, clock=Clock()) as opened:
        yield opened


def begun(store: Store, job: Job) -> Session:
    return start(store, "panels", job, decide(job), "mm")


def to_the_change(session: Session) -> None:
    """Goes on to the fence setting at which the rig changes."""
    while True:
        step = go_to(session, StepKind.SET_FENCE)
        assert step.setting is not None
        if session.walker.changes_rig(step.setting):
            return
        go(session, 1)


def test_the_rig_in_use_does_all_that_it_can_alone() -> None:
    assert decide(panel(shop([fence(Hand.RIGHT, 330.0)], list(TWO_JIGS.jigs)))).rigs == ()


def test_another_rig_that_does_all_by_itself_is_better_than_two() -> None:
    tools = shop([fence(Hand.RIGHT, 250.0), fence(Hand.LEFT, 330.0)], [jig("one in eight", 80.0)])
    found = decide(panel(tools))
    assert set(found.rigs) == {1}
    assert found.rig_changes == 0


def test_a_wide_leading_jig_is_preferred_where_either_would_do() -> None:
    tools = shop([fence(Hand.RIGHT, 250.0)], [*TWO_JIGS.jigs, jig("slim", 10.0)])
    assert set(decide(panel(tools)).rigs) == {2}


def test_a_jig_of_another_slope_takes_no_part() -> None:
    steep = replace(jig("steep", 10.0), slope=0.2)
    assert decide(panel(shop([fence(Hand.RIGHT, 250.0)], [*TWO_JIGS.jigs[:1], steep]))).rigs == ()


def test_a_jig_that_hasnt_the_slope_that_a_layout_is_drawn_for_takes_no_part() -> None:
    # 7.2° and 7.29° are within 0.1° of each other, but only the first is of one in eight, 7.125°.
    degrees = (7.2, 7.29)
    jigs = [replace(one, slope=math.radians(slope)) for one, slope in zip(TWO_JIGS.jigs, degrees, strict=True)]
    drawn = panel(shop([fence(Hand.RIGHT, 250.0)], jigs))
    assert set(decide(drawn).rigs) == {0, 1}
    for_one_in_eight = make_job([replace(drawn.layouts[0], slope=math.atan(1 / 8))], drawn.shop)
    assert decide(for_one_in_eight).rigs == ()


def test_after_a_change_the_fence_is_set_anew_and_a_scrap_cut_comes_first(store: Store) -> None:
    session = begun(store, panel(TWO_JIGS))
    to_the_change(session)
    step = session.next()
    assert step is not None and step.setting is not None
    assert session.walker.move_mm(step.setting) is None
    told = tell(session.walker, step, SAYING)
    assert told.lines[0] == (
        "Change over: fence at the right of the blade, jig “narrow one”, its narrow end leading. "
        "A scrap cut comes first."
    )
    assert "Feeding draws a board off such a jig: clamp it, or use a heel behind it." in told.lines
    assert not any("holds what the scrap cut has shown" in line for line in told.lines)
    go(session, 1)
    check = session.next()
    assert check is not None
    assert check.kind is StepKind.CHECK
    assert "to the near side of the kerf" in tell(session.walker, check, SAYING).lines[0]


def test_what_a_scrap_cut_has_shown_of_one_rig_is_not_carried_to_another(store: Store) -> None:
    session = begun(store, panel(TWO_JIGS))
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.05)
    assert session.walker.fence.offset_mm != 0
    last = len(session.walker.settings.fence_mm) - 1
    assert session.walker.reading_mm(last) == session.walker.settings.fence_mm[last]
    to_the_change(session)
    go(session, 1)
    assert session.walker.fence.offset_mm == 0
    assert session.walker.fence.check_due


def test_on_the_other_side_the_board_lies_as_it_was_put_down_and_the_same_face_is_up(store: Store) -> None:
    session = begun(store, panel(TWO_SIDES, boards=1, ends="A"))
    before = None
    for step in plan(session.walker.situation()):
        if step.side is None or step.edge is None:
            continue
        if before is not None and step.turn is None:
            # The edge that was at the jig on one side of the blade is away from it on the other.
            same_rig = session.walker.settings.rig(before.setting or 0) == session.walker.settings.rig(
                step.setting or 0
            )
            assert (step.edge is before.edge) is same_rig
            assert step.face_up is before.face_up
            assert step.side.end is before.side.end if before.side else None
        before = step


def test_readings_are_on_the_scale_of_the_setting_s_own_fence() -> None:
    fences = [fence(Hand.RIGHT, 330.0), replace(fence(Hand.LEFT, 200.0), graduation=SCALE, zero_mm=10.0)]
    job = panel(shop(fences, list(TWO_SIDES.jigs), throat_mm=285.0))
    settings = decide(job)
    told = plan_as_json(job, settings, list(plan(beginning(job, settings))), SAYING)
    sides = {entry["fence_side"] for entry in told["settings"]}
    assert sides == {"left", "right"}
    for entry in told["settings"]:
        if entry["fence_side"] == "left":
            # Half a millimetre at the graduation, and the zero of 10 mm.
            assert entry["reading"].startswith(f"{round(2 * entry['fence_mm']) / 2 + 10:g} mm")


def test_plan_page_and_certificate_say_which_rig_cuts_what_and_why(capsys: pytest.CaptureFixture[str]) -> None:
    job = panel(TWO_JIGS)
    settings = decide(job)
    steps = list(plan(beginning(job, settings)))
    printer().print(plan_page(job, settings, steps, SAYING, "Panels"))
    page = capsys.readouterr().out
    assert "5 fence settings, 1 change of fence or jig" in page
    assert "Fence at the right of the blade, jig “narrow one”, its narrow end leading:" in page
    why = " ".join(line.strip() for line in why_lines(job, settings, steps, SAYING))
    assert "Why no fewer changes of fence or jig" in why
    assert "jig “wide one”, its wide end leading: 8 of 20 sides out of reach" in why
    assert "So 5 settings are the fewest that there can be, and the plan has 5." in why


def test_a_stop_on_the_travel_is_set_anew_with_another_jig_and_moves_the_other_way() -> None:
    job = panel(TWO_JIGS)
    settings = decide(job)
    moves = [move.move_mm for move in stop_moves(job, settings, stops(job))]
    assert [move is None for move in moves] == [True, False, False, True, False]
    # From the largest mark to the smallest: towards the person with the wide end leading, away with the narrow one.
    signs = [move > 0 for move in moves if move is not None]
    assert signs == [False, False, True]


def test_a_batch_with_several_rigs_is_carried_on_and_taken_to_another_record(store: Store, tmp_path: Path) -> None:
    session = begun(store, panel(TWO_SIDES))
    to_the_change(session)
    go(session, 4)
    opened = Session(store, store.batch(session.id))
    assert opened.walker.situation() == session.walker.situation()
    assert opened.walker.settings.rigs == session.walker.settings.rigs != ()
    write_new(tmp_path / "panels.json", export_batch(store, store.batch(session.id)))
    with Store.open(tmp_path / "other", clock=Clock()) as other:
        row = import_batch(other, tmp_path / "panels.json", name=None)
        assert fold(list(other.events(row.id))).situation() == session.walker.situation()


def test_undoing_the_change_of_rig_brings_the_scrap_cuts_of_the_first_rig_back(store: Store) -> None:
    session = begun(store, panel(TWO_JIGS))
    check = go_to(session, StepKind.CHECK)
    assert check.mark_mm is not None
    session.complete(check, measured_mm=check.mark_mm + 0.05)
    to_the_change(session)
    before = session.walker.situation()
    go(session, 1)
    session.undo()
    assert session.walker.situation() == before
    assert session.walker.fence.offset_mm != 0


def test_another_blade_keeps_which_rig_cuts_what(store: Store) -> None:
    session = begun(store, panel(TWO_JIGS))
    go_to(session, StepKind.CUT)
    go(session, 3)
    thicker = replace(TWO_JIGS, saw=replace(TWO_JIGS.saw, kerf_mm=1.2))
    session.change(corrections.change_shop(session, thicker, plain).events)
    walker = session.walker
    assert {
        walker.settings.rig(index) for index in range(len(walker.settings.fence_mm)) if walker.cuts_left(index)
    } == {
        0,
        1,
    }


def test_a_shop_without_the_second_jig_is_refused_in_the_middle_of_such_a_batch(store: Store) -> None:
    session = begun(store, panel(TWO_JIGS))
    go_to(session, StepKind.CUT)
    with pytest.raises(CoachError, match="cut with several fences or jigs"):
        corrections.change_shop(session, replace(TWO_JIGS, jigs=TWO_JIGS.jigs[:1]), plain)
