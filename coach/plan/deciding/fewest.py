"""The fewest places at which the fence serves every side."""

from __future__ import annotations

from collections.abc import Iterable

from coach.plan.deciding.stabbing import fewest_points, nearest
from coach.plan.intervals import Grid, Interval
from coach.plan.job import EQUAL_MM


def fewest_fences(intervals: Iterable[Interval], grid: Grid | None) -> dict[Interval, float]:
    """Where the fence stands for each of `intervals`: in as few places as can be, on graduations as far as can be."""
    wants = list(dict.fromkeys(intervals))
    points = fewest_points(wants, grid)
    served: dict[int, list[Interval]] = {}
    for want in wants:
        served.setdefault(nearest(want, points), []).append(want)
    return {want: _settled(points[index], alike, grid) for index, alike in served.items() for want in alike}


def _settled(point: float, intervals: list[Interval], grid: Grid | None) -> float:
    """A point off the grid moves to the middle of what it serves, or to the mark that allows no shift."""
    if grid is not None and grid.has(point):
        return point
    low = max(interval.low for interval in intervals)
    high = min(interval.high for interval in intervals)
    strictest = min(intervals, key=lambda interval: interval.high - interval.low)
    if strictest.high - strictest.low <= 2 * EQUAL_MM:
        return min(max(strictest.ideal, low), high)
    middle = sum(interval.ideal for interval in intervals) / len(intervals)
    return min(max(middle, low), high)
