"""How wide a jig may be at its leading end so that saw and fences reach what is wanted of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from coach.plan.geometry import fence_range_mm
from coach.plan.job import Job, Pattern
from coach.plan.reach import PatternSide, past_blade_mm, tolerated_interval
from coach.shop.tools import Jig

Range = tuple[float, float]
"""From one width to another, both included; mm."""

NARROWEST_JIG_MM = 20.0
"""A leading end narrower than this leaves nothing to put a stop on (common practice, no source)."""


def jig_like(jig: Jig, width_mm: float, *, wide_leads: bool) -> Jig:
    """A jig of the same slope and length, so wide at its leading end."""
    return replace(jig, name="another jig", leading_width_mm=width_mm, wide_leads=wide_leads)


def widths_that_reach(job: Job, wanted: Sequence[tuple[Pattern, PatternSide]], *, wide_leads: bool) -> list[Range]:
    """The widths with which each side wanted is within reach of some of the shop's fences, the widest range first."""
    narrowest = NARROWEST_JIG_MM
    if wide_leads:  # it narrows towards the person, and must not run out to nothing
        narrowest = max(narrowest, job.shop.jig.length_mm * math.tan(job.shop.jig.slope) + 1)
    fences = [job.rigged(rig) for rig in range(len(job.shop.fences))]
    left: list[Range] = [(narrowest, math.inf)]
    for pattern, side in wanted:
        by_fence = [_range(rigged, pattern, side, wide_leads=wide_leads) for rigged in fences]
        left = _both(left, _merged(found for found in by_fence if found is not None))
    return sorted(left, key=lambda found: found[0] - found[1])


def _range(job: Job, pattern: Pattern, side: PatternSide, *, wide_leads: bool) -> Range | None:
    """The widths with which the fence in use reaches a side.

    Its mark has the fence at F = W + c within tolerance, where c doesn't depend on the width W, and neither does how
    far the board then reaches past the blade. A wide-leading jig must hold a long board's trailing corner clear of the
    fence: either it never swings out, L sin θ ≤ W, or the fence doesn't reach so far forward (`coach.plan.reach`).
    """
    jig, fence, saw = job.shop.jig, job.shop.fence, job.shop.saw
    trial = replace(job.shop, jigs=(jig_like(jig, 0.0, wide_leads=wide_leads),))
    with_jig = Job(job.layouts, trial, job.patterns, job.boards)
    at = tolerated_interval(with_jig, pattern, side)
    nearest, furthest = fence_range_mm(job.shop)
    low, high = nearest - at.high, furthest - at.low
    if fence.side is not saw.column_side:
        needed = past_blade_mm(with_jig, pattern, 0.0) - saw.throat_mm
        if at.high < needed:
            return None
        high = min(high, furthest - needed)
    if wide_leads:
        mark = (at.low + saw.kerf_mm) / math.cos(jig.slope)
        deep = mark * math.sin(jig.slope) + pattern.ends[side[0]].tail_length_mm / math.cos(jig.slope)
        clear = (fence.front_mm + deep) * math.tan(jig.slope)
        low = max(low, min(clear, pattern.part.length_mm * math.sin(jig.slope)))
    return (low, high) if low <= high else None


def _merged(ranges: Iterable[Range]) -> list[Range]:
    """The same widths in ranges that don't meet, ascending."""
    found: list[Range] = []
    for low, high in sorted(ranges):
        if found and low <= found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], high)
        else:
            found.append((low, high))
    return found


def _both(some: Sequence[Range], others: Sequence[Range]) -> list[Range]:
    """The widths that are in both."""
    pairs = [(max(one[0], other[0]), min(one[1], other[1])) for one in some for other in others]
    return sorted(pair for pair in pairs if pair[0] <= pair[1])
