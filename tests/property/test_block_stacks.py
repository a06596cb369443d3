"""Stacks of blocks are the fewest and the nearest that there are: against trying every stack."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.plan.helping.spacers import fewest_blocks, spacers, stacks
from coach.plan.intervals import Interval
from coach.shop.tools import Block

CHECKED = settings(max_examples=400, deadline=None, derandomize=True)
EXACT = 1e-6

hundredths = st.integers(1, 2500).map(lambda count: count / 100)
sets_of_blocks = st.lists(st.builds(Block, hundredths, st.integers(1, 3)), min_size=1, max_size=5)


def every_stack(blocks: Sequence[Block]) -> Iterator[tuple[int, float]]:
    """How many blocks and how high, for every stack of at least one."""
    for used in product(*(range(block.count + 1) for block in blocks)):
        if any(used):
            yield sum(used), math.fsum(number * block.length_mm for number, block in zip(used, blocks, strict=True))


@given(sets_of_blocks, st.integers(1, 6000).map(lambda count: count / 100), st.integers(0, 100), st.integers(0, 100))
@CHECKED
def test_a_stack_has_the_fewest_blocks_and_then_the_least_error_of_all_that_there_are(
    blocks: list[Block], best: float, below: int, above: int
) -> None:
    # By trying every stack, of at most 1023.
    low, high = best - below / 100, best + above / 100
    found = fewest_blocks(blocks, low, best, high)
    tried = [(count, abs(height - best), height) for count, height in every_stack(blocks)]
    inside = [(count, off) for count, off, height in tried if low - EXACT <= height <= high + EXACT]
    off = abs(math.fsum(found) - best)
    if inside:
        fewest = min(count for count, _ in inside)
        assert len(found) == fewest
        assert off <= min(error for count, error in inside if count == fewest) + EXACT
    else:
        nearest = min(error for _, error, _ in tried)
        assert off <= nearest + EXACT
        assert len(found) == min(count for count, error, _ in tried if error <= nearest + EXACT)


@given(sets_of_blocks, st.integers(1, 6000).map(lambda count: count / 100), st.integers(0, 100))
@CHECKED
def test_a_stack_takes_no_block_that_isn_t_there(blocks: list[Block], best: float, either: int) -> None:
    found = Counter(fewest_blocks(blocks, best - either / 100, best, best + either / 100))
    there: Counter[float] = Counter()
    for block in blocks:
        there[block.length_mm] += block.count
    assert found <= there


windows = st.lists(
    st.tuples(hundredths, st.integers(0, 50), st.integers(0, 50)).map(
        lambda of: Interval(of[0] - of[1] / 100, of[0], of[0] + of[2] / 100)
    ),
    min_size=2,
    max_size=6,
    unique_by=lambda want: want.ideal,
)


@given(sets_of_blocks, windows, st.booleans())
@CHECKED
def test_errors_of_stacks_do_not_add_up(blocks: list[Block], wants: list[Interval], downwards: bool) -> None:
    allowed = sorted(wants, key=lambda want: want.ideal, reverse=downwards)
    stands = allowed[0].ideal
    for want, stack in zip(allowed[1:], stacks(blocks, allowed), strict=True):
        sign = 1 if want.ideal > stands else -1
        assert math.isclose(sign * stack.move_mm, want.ideal - stands, abs_tol=EXACT)
        reached = stands + sign * math.fsum(stack.blocks_mm)
        assert stack.within == (want.low - 0.0005 - EXACT <= reached <= want.high + 0.0005 + EXACT)
        stands = reached if stack.within else want.ideal


@given(windows, st.booleans())
@CHECKED
def test_spacers_bring_the_fence_within_tolerance_at_every_setting(wants: list[Interval], downwards: bool) -> None:
    allowed = sorted(wants, key=lambda want: want.ideal, reverse=downwards)
    found = spacers(allowed)
    assert found is not None
    sign = -1 if downwards else 1
    stands = found.fence_mm[0]
    for want, move in zip(allowed, (0.0, *found.moves_mm), strict=True):
        stands += sign * move
        assert want.low - 0.001 * len(wants) <= stands <= want.high + 0.001 * len(wants)


@given(hundredths, hundredths, st.lists(st.integers(-50, 50), min_size=2, max_size=6))
@CHECKED
def test_settings_that_an_even_pitch_serves_within_tolerance_get_spacers_of_one_length(
    first: float, pitch: float, off: list[int]
) -> None:
    # Made so that it can be done: each best position is off an even pitch by no more than is allowed.
    ideals = [first + number * (pitch + 2) + shift / 100 for number, shift in enumerate(off)]
    found = spacers([Interval(ideal - 0.5, ideal, ideal + 0.5) for ideal in ideals])
    assert found is not None
    assert [count for _, count in found.kinds] == [len(off) - 1]
    assert found.furthest_mm <= 0.5 + EXACT
