"""The virtual saw finds each thing that would spoil a tail, and nothing in a plan that is right."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from support.small_jobs import job as job_of
from support.small_jobs import joint, part, plain, shop, two_tails

from coach.ground.errors import CoachError
from coach.ground.terms import End, Turn
from coach.plan.deciding.decide import decide
from coach.plan.geometry import fence_for_mark_mm
from coach.plan.job import Job
from coach.plan.judging.proof import proven_settings
from coach.plan.judging.virtual_saw import faults
from coach.plan.settings import Settings
from coach.plan.steps import Step, StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan


def steps_of(job: Job, settings: Settings) -> list[Step]:
    return list(plan(beginning(job, settings)))


def found(job: Job, settings: Settings | None = None, steps: Sequence[Step] | None = None) -> list[str]:
    settings = settings or decide(job)
    return faults(job, settings, steps_of(job, settings) if steps is None else steps, plain)


def spoiled(job: Job, which: Callable[[Step], bool], **changes: object) -> list[str]:
    """What is found once the first step for which `which` holds is changed."""
    settings = decide(job)
    steps = steps_of(job, settings)
    at = next(index for index, step in enumerate(steps) if which(step))
    steps[at] = replace(steps[at], **changes)  # type: ignore[arg-type]
    return found(job, settings, steps)


def is_cut(step: Step) -> bool:
    return step.kind is StepKind.CUT


@pytest.mark.parametrize("wide_leads", [True, False])
@pytest.mark.parametrize("graduation", [None, "0.5", "0.79375"])
def test_a_plan_that_is_right_has_no_faults(wide_leads: bool, graduation: str | None) -> None:
    tools = shop(wide_leads=wide_leads, graduation_mm=graduation)
    assert found(two_tails(tools, boards=2, spares=1)) == []


@pytest.mark.parametrize("off", [0.05, -0.05, 3.0, -3.0])
def test_a_fence_that_stands_off_is_found_with_by_how_much_the_mark_is_missed(off: float) -> None:
    job = two_tails()
    right = decide(job)
    wrong = replace(right, fence_mm=(right.fence_mm[0] + off, *right.fence_mm[1:]))
    # By hand: along the end it is off by 1/cos of it, at 1:8 by √65/8 = 1.00778.
    assert f"side 1, end A, tail 2, top side: would be cut {abs(off) * 1.00778:.3f} off its mark, beyond tolerance" in (
        found(job, wrong)
    )


def test_a_fence_that_is_never_moved_on_is_found_at_every_cut_of_the_next_setting() -> None:
    job = two_tails()
    settings = decide(job)
    steps = steps_of(job, settings)
    del steps[max(index for index, step in enumerate(steps) if step.kind is StepKind.SET_FENCE)]
    messages = found(job, settings, steps)
    assert len([m for m in messages if m.endswith("the fence doesn't stand at this cut's setting")]) == 4


def test_a_wrong_face_up_is_found() -> None:
    job = two_tails()
    first = next(step for step in steps_of(job, decide(job)) if is_cut(step))
    assert first.face_up is not None
    messages = spoiled(job, is_cut, face_up=first.face_up.other)
    assert [m for m in messages if "the board lies otherwise than the step says" in m]


@pytest.mark.parametrize("turn", [None, *Turn])
def test_a_wrong_turn_is_found(turn: Turn | None) -> None:
    job = two_tails()
    turned = next(step for step in steps_of(job, decide(job)) if step.turn is not None)
    messages = spoiled(job, lambda step: step == turned, turn=turn)
    assert bool(messages) == (turn is not turned.turn)


def test_a_wrong_edge_at_the_jig_is_found() -> None:
    job = two_tails()
    first = next(step for step in steps_of(job, decide(job)) if is_cut(step))
    assert first.edge is not None and first.face_up is not None
    messages = spoiled(job, is_cut, edge=first.edge.other, face_up=first.face_up.other)
    assert [m for m in messages if "the kerf misses the side by" in m or "beyond tolerance" in m]


def test_a_side_that_is_cut_twice_is_found() -> None:
    job = two_tails()
    settings = decide(job)
    steps = steps_of(job, settings)
    at = next(index for index, step in enumerate(steps) if is_cut(step))
    steps.insert(at + 1, replace(steps[at], turn=None))
    assert found(job, settings, steps) == ["side 1, end A, tail 2, top side: would be cut twice"]


def test_a_side_that_is_never_cut_is_found() -> None:
    job = two_tails()
    settings = decide(job)
    steps = steps_of(job, settings)
    del steps[max(index for index, step in enumerate(steps) if is_cut(step))]
    assert found(job, settings, steps) == ["1 of 8 sides would never be cut"]


def test_cuts_of_another_board_do_not_count_for_a_board_that_was_left_out() -> None:
    job = two_tails(boards=2)
    settings = decide(job)
    steps = [step for step in steps_of(job, settings) if step.side is None or step.side.board != 2]
    assert found(job, settings, steps) == ["8 of 16 sides would never be cut"]


def test_a_kerf_that_bites_into_the_neighbour_is_found_with_how_deep_it_bites() -> None:
    # Tails from 5 to 28 and from 28.5 to 52: between them 0.5 mm, of which a kerf takes 0.9 · √65/8 = 0.907.
    end = joint((5.0, 28.5), (5.0, 29.0))
    job = job_of([part({End.A: end})])
    messages = found(job)
    reaches = "the kerf reaches 0.407 into"
    assert f"side 1, end A, tail 2, top side: {reaches} tail 1 at end A, from its bottom side" in messages
    assert f"side 1, end A, tail 1, bottom side: {reaches} tail 2 at end A, from its top side" in messages


def test_a_blade_that_runs_into_the_jig_is_found_with_how_deep_it_runs() -> None:
    # A half-pin socket of 0.6 mm is 0.307 narrower than the kerf is along the end.
    end = joint((0.6, 31.0), (5.0, 30.0))
    job = job_of([part({End.A: end})])
    assert "side 1, end A, tail 1, top side: the blade would run 0.307 into the jig" in found(job)


def test_a_narrow_leading_jig_is_never_reached_by_the_blade() -> None:
    end = joint((0.6, 31.0), (5.0, 30.0))
    job = job_of([part({End.A: end})], shop(wide_leads=False))
    assert not [message for message in found(job) if "into the jig" in message]


def rounded(job: Job, step_mm: float) -> Settings:
    """Each side's own setting, moved to the nearest multiple of `step_mm` without regard to its socket."""
    settings = decide(job)
    return replace(settings, fence_mm=tuple(round(fence / step_mm) * step_mm for fence in settings.fence_mm))


@pytest.mark.parametrize("pin", [1.2, 2.0, 3.0])
def test_settings_on_a_coarse_scale_never_leave_a_socket_too_narrow(pin: float) -> None:
    # 4 mm graduations allow a shift of 2 mm; half of what the socket has over the kerf is less.
    width = 5.0 + 30.0 + pin + 30.0 + 5.0
    end = joint((5.0, 35.0 + pin))
    job = job_of([part({End.A: end, End.B: end}, width_mm=width)], shop(graduation_mm="4"))
    assert found(job) == []


def test_rounding_to_a_coarse_scale_that_makes_a_socket_too_narrow_is_refused() -> None:
    # Tail 2's top side belongs at F = 80 + 37 · 8/√65 − 0.9 = 115.814; at 114 its mark shifts by 1.828 into a socket
    # of 2 mm. Tail 1's bottom side goes there as well, so the tails overlap by 2 · 1.828 − 2.
    end = joint((5.0, 37.0))
    job = job_of([part({End.A: end}, width_mm=72.0)], shop(graduation_mm="4"))
    exact = decide(job_of([part({End.A: end}, width_mm=72.0)]))
    coarse = replace(exact, fence_mm=(114.0, exact.fence_mm[1]))
    messages = found(job, coarse)
    assert [m for m in messages if m.endswith("beyond tolerance")]
    assert [m for m in messages if "tails 1 and 2 overlap" in m and "1.657" in m and "once rounded to the scale" in m]


def test_rounding_that_leaves_too_little_of_a_tail_at_the_baseline_is_refused() -> None:
    # A tail of 6 mm is 3 mm wide at a baseline 12 mm in. Both marks belong at F = 80 + 10 · 8/√65 − 0.9 = 89.023; the
    # next of the 2 mm graduations, 90, makes the tail 2 · 0.977 · √65/8 = 1.970 narrower: 1.030 of 4.030 is left.
    end = joint((10.0,))
    tools = shop(graduation_mm="2")
    job = job_of([part({End.A: end}, width_mm=26.0)], tools)
    assert fence_for_mark_mm(tools.jig, 0.9, 10.0) == pytest.approx(89.023, abs=1e-3)
    with pytest.raises(CoachError) as caught:
        proven_settings(job, plain)
    (problem,) = caught.value.problems
    assert problem.startswith('part "side", end A: tail 1 would be 1.030 at the baseline once rounded to the scale')
    assert "less than a third of its 4.030" in problem


def test_a_socket_that_is_too_narrow_on_the_widest_board_is_refused() -> None:
    # The socket between the tails is 1.6 mm; on a board 1 mm too wide 0.6 is left, and the kerf needs 0.907.
    end = joint((5.0, 29.3))
    width = 5.0 + 22.7 + 1.6 + 22.7 + 5.0
    fine = job_of([part({End.A: end}, width_mm=width)])
    wide = job_of([part({End.A: end}, width_mm=width, widest_mm=width + 1.0)])
    assert found(fine) == []
    (problem,) = found(wide)
    assert problem.startswith('part "side", end A: the socket between tails 1 and 2 is 0.600 wide at the end')
    assert "on the widest board" in problem
    assert "at least 0.907" in problem


def test_half_pin_sockets_are_as_wide_on_the_widest_board() -> None:
    end = joint((1.0, 33.0))
    job = job_of([part({End.A: end}, width_mm=60.0, widest_mm=62.0)])
    assert found(job) == []


def test_on_wider_boards_a_narrow_leading_jig_leaves_wider_sockets_and_narrower_tails() -> None:
    # Marks count from the far edge: 2 mm more of width are 2 mm more of every socket and 2 mm less of every tail.
    # A socket of 1.5 mm, which a wide-leading jig would close, is no problem.
    end = joint((5.0, 29.0), (5.0, 29.0))
    tools = shop(wide_leads=False, graduation_mm="0.5", throat_mm=900.0)
    job = job_of([part({End.A: end}, width_mm=56.5, widest_mm=58.5)], tools)
    assert found(job, decide(job)) == []
    # Tails of 22.5 mm, 19.5 at the baseline, are 2 mm narrower on boards of 58.5; on 76.5 there would be 2.5, of which
    # nothing is left at the baseline.
    far = job_of([part({End.A: end}, width_mm=56.5, widest_mm=76.5)], tools)
    assert any("tail 1 would be 0.000 at the baseline" in message for message in found(far, decide(far)))
