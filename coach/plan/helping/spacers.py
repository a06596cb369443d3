"""Spacers instead of a scale: made for the moves of a plan, or stacked from blocks that are there already."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from coach.plan.intervals import NEAR, Interval
from coach.plan.job import Job
from coach.plan.reach import fence_interval
from coach.plan.settings import Settings
from coach.shop.tools import Block

SAME_MM = 0.001  # spacers that differ by less are made alike


@dataclass(frozen=True, slots=True)
class Spacers:
    """Spacers to be made for the moves from setting to setting.

    Attributes:
        kinds: lengths in mm, the longest first, each with how many of it.
        moves_mm: the spacer for each move, in order.
        fence_mm: where the fence stands at each setting with them (F).
        furthest_mm: how far from where it would best stand that is at most.
    """

    kinds: tuple[tuple[float, int], ...]
    moves_mm: tuple[float, ...]
    fence_mm: tuple[float, ...]
    furthest_mm: float


@dataclass(frozen=True, slots=True)
class Stack:
    """Blocks for one move of the fence.

    Attributes:
        move_mm: how far the fence should go, from where the stacks before have brought it.
        blocks_mm: the lengths of the blocks, the longest first.
        error_mm: how much longer the stack is than that.
        within: whether the fence then stands within tolerance.
    """

    move_mm: float
    blocks_mm: tuple[float, ...]
    error_mm: float
    within: bool


def allowed_fences(job: Job, settings: Settings) -> list[Interval]:
    """Where the fence may stand at each setting so that all sides that it serves are within tolerance, and where best:
    in the middle of what their marks ask for, without rounding to a scale."""
    wants: list[set[Interval]] = [set() for _ in settings.fence_mm]
    for pattern, serving in zip(job.patterns, settings.serves, strict=True):
        for side, setting in serving.items():
            wants[setting].add(fence_interval(job.rigged(settings.rig(setting)), pattern, side))
    found = []
    for want in wants:
        low, high = max(one.low for one in want), min(one.high for one in want)
        middle = math.fsum(sorted(one.ideal for one in want)) / len(want)
        found.append(Interval(low, min(max(middle, low), high), high))
    return found


def spacers(allowed: Sequence[Interval]) -> Spacers | None:
    """The spacers for a plan's settings: one length for all moves if that keeps every setting within tolerance, else
    one for each distinct move. None if there is only one setting, so that the fence never moves.

    Args:
        allowed: where the fence may stand at each setting, in the order of its travel.
    """
    if len(allowed) < 2:
        return None
    upwards = allowed[-1].ideal > allowed[0].ideal
    rising = list(allowed) if upwards else list(reversed(allowed))
    fences = _evenly(rising) or [want.ideal for want in rising]
    if not upwards:
        fences.reverse()
    moves = _made_alike([abs(later - earlier) for earlier, later in pairwise(fences)])
    kinds = sorted(((length, moves.count(length)) for length in set(moves)), reverse=True)
    furthest = max(abs(fence - want.ideal) for fence, want in zip(fences, allowed, strict=True))
    return Spacers(tuple(kinds), tuple(moves), tuple(fences), furthest)


def _evenly(rising: Sequence[Interval]) -> list[float] | None:
    """Fence positions at one pitch that meet all of `rising`, or None.

    Settings i < j at a pitch p meet their ranges from some start if low_j - high_i ≤ (j - i) p ≤ high_j - low_i holds
    for every pair, since ranges of starts of which any two have a point in common all have one.
    """
    pairs = list(combinations(range(len(rising)), 2))
    least = max((rising[j].low - rising[i].high) / (j - i) for i, j in pairs)
    most = min((rising[j].high - rising[i].low) / (j - i) for i, j in pairs)
    if least > most + NEAR:
        return None
    count = len(rising)
    centre = (count - 1) / 2
    weight = sum((number - centre) ** 2 for number in range(count))
    slope = sum((number - centre) * want.ideal for number, want in enumerate(rising)) / weight  # of the best line
    pitch = max(min(slope, most), least)
    first_least = max(want.low - number * pitch for number, want in enumerate(rising))
    first_most = min(want.high - number * pitch for number, want in enumerate(rising))
    middle = sum(want.ideal - number * pitch for number, want in enumerate(rising)) / count
    first = max(min(middle, first_most), first_least)
    return [first + number * pitch for number in range(count)]


def _made_alike(moves: Sequence[float]) -> list[float]:
    """The moves, with those that differ by less than a micrometre made equal."""
    groups: list[list[float]] = []
    for move in sorted(moves):
        if groups and move - groups[-1][0] <= SAME_MM:
            groups[-1].append(move)
        else:
            groups.append([move])
    middle = {move: sum(group) / len(group) for group in groups for move in group}
    return [middle[move] for move in moves]


def stacks(blocks: Sequence[Block], allowed: Sequence[Interval]) -> list[Stack]:
    """The fewest blocks for each move from setting to setting.

    Each move starts where the stacks before it have really brought the fence, so that errors don't add up. After a move
    that can't be made within tolerance the fence is taken to have been set by measuring.

    Args:
        blocks: what there is, at least one; all of it can be used for each move.
        allowed: where the fence may stand at each setting, in the order of its travel.
    """
    found = []
    stands = allowed[0].ideal
    for want in allowed[1:]:
        sign = 1 if want.ideal > stands else -1
        low, high = sorted((sign * (want.low - stands), sign * (want.high - stands)))
        move = sign * (want.ideal - stands)
        chosen = fewest_blocks(blocks, low, move, high)
        total = math.fsum(chosen)
        within = low - SAME_MM / 2 <= total <= high + SAME_MM / 2
        found.append(Stack(move, chosen, total - move, within))
        stands = stands + sign * total if within else want.ideal
    return found


def fewest_blocks(blocks: Sequence[Block], low_mm: float, best_mm: float, high_mm: float) -> tuple[float, ...]:
    """The fewest of `blocks` that stack up to a height from low to high, of those the nearest to `best_mm`; where none
    do, the stack that comes nearest to it. Exact, for heights to the micrometre.

    For each number of blocks, the heights that so many make are the bits of one whole number, in micrometres.

    Returns:
        the lengths of the blocks in mm, the longest first; never none.
    """
    kinds = sorted(((block.length_mm, block.count) for block in blocks), reverse=True)
    sizes = [(round(length * 1000), count) for length, count in kinds]
    low, high = math.ceil(low_mm * 1000 - 0.5), math.floor(high_mm * 1000 + 0.5)
    best = best_mm * 1000
    highest = max(high, math.ceil(2 * best) + min(size for size, _ in sizes))
    heights = _heights(sizes, sum(count for _, count in sizes), highest)
    number, height = _chosen(heights, low, best, high)
    below = [_heights(sizes[:kind], number, height) for kind in range(len(sizes))]
    found: list[float] = []
    for kind in reversed(range(len(sizes))):
        size, count = sizes[kind]
        used = next(
            used
            for used in range(min(count, number) + 1)
            if used * size <= height and below[kind][number - used] >> (height - used * size) & 1
        )
        found += [kinds[kind][0]] * used
        number -= used
        height -= used * size
    return tuple(sorted(found, reverse=True))


def _heights(sizes: Sequence[tuple[int, int]], most: int, highest: int) -> list[int]:
    """For each number of blocks up to `most`: bit h is set if so many blocks make h, as far as `highest`."""
    mask = (1 << highest + 1) - 1
    heights = [1] + [0] * most
    for size, count in sizes:
        for _ in range(count):
            for number in range(most, 0, -1):
                heights[number] |= heights[number - 1] << size & mask
    return heights


def _chosen(heights: Sequence[int], low: int, best: float, high: int) -> tuple[int, int]:
    """How many blocks, and how high they stack up."""
    nearest: tuple[float, int, int] | None = None
    split = max(math.floor(best), 0)
    for number, made in enumerate(heights[1:], 1):
        under, over = made & (1 << split + 1) - 1, made >> split + 1
        tops = [under.bit_length() - 1] if under else []
        tops += [split + (over & -over).bit_length()] if over else []
        for height in tops:
            found = (abs(height - best), number, height)
            nearest = found if nearest is None or found < nearest else nearest
        inside = [height for height in tops if low <= height <= high]
        if inside:
            return number, min(inside, key=lambda height: (abs(height - best), height))
    assert nearest is not None  # the shortest block is among the heights
    return nearest[1], nearest[2]
