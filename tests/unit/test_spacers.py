"""Spacers and stacks of blocks, by hand-worked numbers."""

from __future__ import annotations

import pytest
from support.small_jobs import job, joint, part, plain, shop, two_tails

from coach.ground.terms import End
from coach.plan.deciding.decide import decide
from coach.plan.helping.spacers import Spacers, allowed_fences, fewest_blocks, spacers, stacks
from coach.plan.intervals import Interval
from coach.plan.job import Job
from coach.shop.tools import Block

METRIC = [Block(10.0, 2), Block(5.0, 1), Block(2.0, 2), Block(1.0, 1)]


def found_for(of: Job, *, smallest_first: bool = False) -> Spacers:
    found = spacers(allowed_fences(of, decide(of, smallest_first=smallest_first)))
    assert found is not None
    return found


def evenly_pitched(graduation_mm: str | None = None) -> Job:
    """Four tails at a pitch of 31.14 mm."""
    marks = (5.0, 36.14, 67.28, 98.42)
    return job([part({End.A: joint(marks)}, width_mm=130.56)], shop(graduation_mm=graduation_mm))


@pytest.mark.parametrize("smallest_first", [False, True])
def test_evenly_pitched_tails_take_spacers_of_pitch_times_cosine(smallest_first: bool) -> None:
    # By hand: 31.14 mm · 8/√65 = 30.8995 mm, between four settings three times.
    ((length, count),) = found_for(evenly_pitched(), smallest_first=smallest_first).kinds
    assert (plain(length), count) == ("30.900", 3)
    assert length == pytest.approx(31.14 * 8 / 65**0.5, abs=1e-6)


def test_spacers_go_by_the_marks_and_not_by_the_scale() -> None:
    # The scale's settings are 1 mm apart or more, at uneven distances; the marks' own are 30.8995 mm apart.
    found = found_for(evenly_pitched("1"))
    assert [(plain(length), count) for length, count in found.kinds] == [("30.900", 3)]
    assert found.furthest_mm < 1e-9


def test_moves_that_no_single_spacer_serves_get_one_for_each_distinct_length() -> None:
    # By hand: marks 10, 40, 70 and 90 mm: moves of 20, 30 and 30 mm times 8/√65.
    found = found_for(job([part({End.A: joint((10.0, 40.0, 70.0, 90.0))}, width_mm=120.0)]))
    assert [(plain(length), count) for length, count in found.kinds] == [("29.768", 2), ("19.846", 1)]
    assert [plain(move) for move in found.moves_mm] == ["19.846", "29.768", "29.768"]


def test_moves_that_are_even_within_tolerance_get_spacers_of_one_length() -> None:
    # By hand: best at 0, 30.2 and 60, each 0.1 mm either way. At a pitch of 30 mm from 0.0667 mm on, the least squares'
    # line, the middle one would be 0.133 mm off; from 0.1 mm on all are within tolerance.
    wants = [Interval(at - 0.1, at, at + 0.1) for at in (0.0, 30.2, 60.0)]
    found = spacers(wants)
    assert found is not None
    assert [(plain(length), count) for length, count in found.kinds] == [("30.000", 2)]
    assert [plain(fence) for fence in found.fence_mm] == ["0.100", "30.100", "60.100"]
    assert plain(found.furthest_mm) == "0.100"


def test_a_fence_that_never_moves_needs_no_spacer() -> None:
    one = job([part({End.A: joint((5.0,))})])
    assert spacers(allowed_fences(one, decide(one))) is None


def test_a_stack_takes_the_fewest_blocks() -> None:
    # By hand: 12 is 10 + 2, not 5 + 5 + 2 or 10 + 1 + 1.
    assert fewest_blocks(METRIC, 12.0, 12.0, 12.0) == (10.0, 2.0)


def test_fewer_blocks_come_before_a_smaller_error() -> None:
    # By hand: 10 is within tolerance of 10.9; 10 + 1 would be nearer.
    assert fewest_blocks(METRIC, 9.9, 10.9, 11.9) == (10.0,)


def test_of_as_many_blocks_the_nearest_stack_is_taken() -> None:
    # By hand: 10 + 2 and 10 + 1 are both within tolerance of 11.4.
    assert fewest_blocks(METRIC, 10.9, 11.4, 12.1) == (10.0, 1.0)


def test_no_more_blocks_are_taken_than_there_are() -> None:
    # By hand: 29 is 10 + 10 + 5 + 2 + 2; there is no third block of 10.
    assert fewest_blocks(METRIC, 29.0, 29.0, 29.0) == (10.0, 10.0, 5.0, 2.0, 2.0)


@pytest.mark.parametrize(("best", "nearest"), [(40.0, 30.0), (0.4, 1.0), (7.4, 7.0), (7.6, 8.0)])
def test_where_nothing_fits_the_nearest_stack_is_named(best: float, nearest: float) -> None:
    assert sum(fewest_blocks(METRIC, best - 0.1, best, best + 0.1)) == pytest.approx(nearest)


def test_sixty_fourths_of_an_inch_stack_up_although_they_are_no_whole_micrometres() -> None:
    # By hand: 3/64 in is 1.190625 mm.
    assert fewest_blocks([Block(25.4 / 64, 3)], 1.19, 25.4 * 3 / 64, 1.20) == (25.4 / 64,) * 3


def test_a_move_starts_where_the_stack_before_has_really_brought_the_fence() -> None:
    # By hand: 20.3 to 10 to 0: the first move of 10.3 is made with 10, so the second is 10.3 as well, and ends at 0.3.
    wants = [Interval(at - 0.4, at, at + 0.4) for at in (20.3, 10.0, 0.0)]
    found = stacks([Block(10.0, 1)], wants)
    assert [plain(stack.move_mm) for stack in found] == ["10.300", "10.300"]
    assert [plain(stack.error_mm) for stack in found] == ["-0.300", "-0.300"]
    assert [stack.within for stack in found] == [True, True]


def test_a_move_of_the_plan_is_made_of_ones_own_blocks() -> None:
    # By hand: from 30.5 to 5 mm the fence goes 25.5 · 8/√65 = 25.303 mm; 10 + 10 + 5 = 25 is 0.303 mm short.
    two = two_tails(tolerance_mm=0.4)
    (stack,) = stacks(METRIC, allowed_fences(two, decide(two)))
    assert (stack.blocks_mm, stack.within) == ((10.0, 10.0, 5.0), True)
    assert plain(stack.error_mm) == "-0.303"
