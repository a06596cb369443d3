"""The fewest points that meet every one of a set of intervals, on a grid where that costs none more."""

from __future__ import annotations

import bisect
from collections.abc import Sequence

from coach.plan.intervals import NEAR, Grid, Interval

Cost = tuple[int, int, float]  # points, points off the grid, sum of squared shifts


def fewest_points(intervals: Sequence[Interval], grid: Grid | None) -> list[float]:
    """The fewest points that meet all `intervals`; of those the most on the grid; of those the least shift.

    A shortest path over candidate points from left to right. A point may follow another if no interval lies wholly
    between them; an interval is served by the nearer of the two points about its ideal that it holds, so a pair of
    neighbours settles what the intervals between them cost. Candidates are the ends and ideals of the intervals and the
    grid's points in them: some fewest set uses right ends alone (the greedy rule), the others are for grid and shift.

    Returns:
        the points, ascending.
    """
    wants = sorted(set(intervals), key=lambda want: (want.ideal, want.low, want.high))
    if not wants:
        return []
    candidates = _candidates(wants, grid)
    ideals = [want.ideal for want in wants]
    by_high = sorted(wants, key=lambda want: want.high)
    highs = [want.high for want in by_high]
    furthest_low: list[float] = []  # of the intervals that end before
    for want in by_high:
        furthest_low.append(max(want.low, furthest_low[-1]) if furthest_low else want.low)
    last_low = max(want.low for want in wants)
    best: list[Cost] = []
    back: list[int] = []
    for index, point in enumerate(candidates):
        off = 0 if grid is None or grid.has(point) else 1
        ended = bisect.bisect_left(highs, point - NEAR)
        upto = bisect.bisect_right(ideals, point)
        if ended == 0:
            shift = sum((point - want.ideal) ** 2 for want in wants[:upto])
            best.append((1, off, shift))
            back.append(-1)
            continue
        first = bisect.bisect_left(candidates, furthest_low[ended - 1] - NEAR, 0, index)
        least = min(best[before][:2] for before in range(first, index))
        chosen: tuple[Cost, int] | None = None
        for before in range(first, index):
            if best[before][:2] != least:
                continue
            start = bisect.bisect_right(ideals, candidates[before])
            shift = best[before][2] + _between(wants[start:upto], candidates[before], point)
            cost = (least[0] + 1, least[1] + off, shift)
            if chosen is None or cost < chosen[0]:
                chosen = (cost, before)
        assert chosen is not None  # the right end of the interval with the furthest low is among the candidates
        best.append(chosen[0])
        back.append(chosen[1])
    ends = []
    for index, point in enumerate(candidates):
        if point >= last_low - NEAR:
            rest = wants[bisect.bisect_right(ideals, point) :]
            points, off, shift = best[index]
            ends.append(((points, off, shift + sum((point - want.ideal) ** 2 for want in rest)), index))
    at = min(ends)[1]
    chain = []
    while at >= 0:
        chain.append(candidates[at])
        at = back[at]
    return chain[::-1]


def nearest(interval: Interval, points: Sequence[float]) -> int:
    """Which of the ascending `points` serves the interval: the one it holds that is nearest to its ideal."""
    first = bisect.bisect_left(points, interval.low - NEAR)
    last = bisect.bisect_right(points, interval.high + NEAR)
    return min(range(first, last), key=lambda index: (abs(points[index] - interval.ideal), index))


def _candidates(wants: Sequence[Interval], grid: Grid | None) -> list[float]:
    found: set[float] = set()
    for want in wants:
        found.update((want.low, want.ideal, want.high))
        if grid is not None:
            found.update(grid.within(want.low, want.high))
    merged: list[float] = []
    for point in sorted(found):
        if merged and point - merged[-1] <= NEAR / 10:
            if grid is not None and grid.has(point) and not grid.has(merged[-1]):
                merged[-1] = point
            continue
        merged.append(point)
    return merged


def _between(wants: Sequence[Interval], left: float, right: float) -> float:
    """What the intervals with ideals between two neighbouring points cost in squared shift; each holds one of them."""
    total = 0.0
    for want in wants:
        if right > want.high + NEAR:
            shift = want.ideal - left
        elif left < want.low - NEAR:
            shift = right - want.ideal
        else:
            shift = min(want.ideal - left, right - want.ideal)
        total += shift**2
    return total
