"""Where the fence may stand for a side: its mark within tolerance, and all of saw, fence and jig within reach."""

from __future__ import annotations

import math

from coach.ground.terms import Edge, End
from coach.plan.geometry import fence_for_mark_mm, fence_range_mm, mark_at_fence_mm, mark_from_jig_mm
from coach.plan.intervals import Grid, Interval
from coach.plan.job import Job, Pattern

PatternSide = tuple[End, int, Edge]
"""A side of the boards of a pattern."""

NEAR = 1e-9


def best_fence_mm(job: Job, pattern: Pattern, side: PatternSide) -> float:
    """Where the fence in use would stand to cut a side at its very mark (F), whether or not it can."""
    end, tail, faces = side
    jig = job.shop.jig
    mark = mark_from_jig_mm(jig, pattern.ends[end], pattern.part.width_mm, tail, faces)
    return fence_for_mark_mm(jig, job.shop.saw.kerf_mm, mark)


def shift_mm(job: Job, pattern: Pattern, side: PatternSide, fence_mm: float) -> float:
    """By how much the rig in use, with its fence so, shifts a side's mark along the end; positive makes the tail
    narrower."""
    shift = (fence_mm - best_fence_mm(job, pattern, side)) / math.cos(job.shop.jig.slope)
    return shift if job.shop.jig.wide_leads else -shift


def fence_interval(job: Job, pattern: Pattern, side: PatternSide) -> Interval:
    """Where the fence in use may stand for a side: its mark within tolerance, and everything within reach.

    A shift towards the side's socket is held to half of what the socket has over kerf/cos(slope), so that two sides
    that both shift into one socket leave room for the blade. If there is no such place, it is where the mark alone
    would have the fence.
    """
    tolerated = tolerated_interval(job, pattern, side)
    nearest, furthest = reach_range_mm(job, pattern, side[0])
    low, high = max(tolerated.low, nearest), min(tolerated.high, furthest)
    if low > high + NEAR:
        return tolerated
    low = min(low, high)
    return Interval(low, min(max(tolerated.ideal, low), high), high)


def reaches(job: Job, pattern: Pattern, side: PatternSide) -> bool:
    """Whether the rig in use can cut a side within tolerance with everything within reach."""
    tolerated = tolerated_interval(job, pattern, side)
    nearest, furthest = reach_range_mm(job, pattern, side[0])
    return max(tolerated.low, nearest) <= min(tolerated.high, furthest) + NEAR


def tolerated_interval(job: Job, pattern: Pattern, side: PatternSide) -> Interval:
    """Where the fence in use would have a side's mark within tolerance."""
    end, tail, faces = side
    jig, joint = job.shop.jig, pattern.ends[end]
    cosine = math.cos(jig.slope)
    number = tail - 1 if faces is Edge.TOP else tail
    socket = joint.socket_widths_mm(pattern.part.width_mm)[number]
    if jig.wide_leads and 0 < number < joint.tails:  # on a wider board, cut from both edges, it is narrower
        socket -= pattern.part.widest_mm - pattern.part.width_mm
    room = max(0.0, (socket - job.shop.saw.kerf_mm / cosine) / 2)
    tolerance_mm = job.tolerance_mm(pattern)
    into_socket, into_tail = min(tolerance_mm, room) * cosine, tolerance_mm * cosine
    ideal = best_fence_mm(job, pattern, side)
    low, high = (into_socket, into_tail) if jig.wide_leads else (into_tail, into_socket)
    return Interval(ideal - low, ideal, ideal + high)


def reach_range_mm(job: Job, pattern: Pattern, end: End) -> tuple[float, float]:
    """Between which F everything is within reach while an end is cut: the fence's own range; the throat, where the
    column stands across the blade from the fence; the fence's front, where a long board's trailing corner swings.

    With F further out the board lies further from the column, and its trailing corner comes nearer to the fence.
    """
    nearest, furthest = fence_range_mm(job.shop)
    shop = job.shop
    if shop.fence.side is not shop.saw.column_side:
        nearest = max(nearest, past_blade_mm(job, pattern, 0.0) - shop.saw.throat_mm)
    if swings_out_mm(job, pattern) > 0:
        deepest = _meets_mm(job, pattern, end, 0.0) - shop.fence.front_mm
        furthest = min(furthest, fence_for_mark_mm(shop.jig, shop.saw.kerf_mm, deepest / math.sin(shop.jig.slope)))
    return nearest, furthest


def past_blade_mm(job: Job, pattern: Pattern, fence_mm: float) -> float:
    """How far the board reaches past the blade, away from the fence, with the fence at F; on the widest board.

    That is (w - m) cos θ + k for the mark m that is cut there, since the mark lies at the kerf's far side, x = -k. With
    a narrow-leading jig the mark lies at the near side, x = 0, and the board's far edge slants towards the column: then
    it is (w - m) cos θ + length sin θ.
    """
    jig, kerf = job.shop.jig, job.shop.saw.kerf_mm
    mark = mark_at_fence_mm(jig, kerf, fence_mm)
    over = (pattern.part.widest_mm - mark) * math.cos(jig.slope)
    return over + (kerf if jig.wide_leads else pattern.part.length_mm * math.sin(jig.slope))


def swings_out_mm(job: Job, pattern: Pattern) -> float:
    """How far a long board's trailing corner swings past the fence's face; 0 or less if it doesn't."""
    jig = job.shop.jig
    return pattern.part.length_mm * math.sin(jig.slope) - jig.leading_width_mm if jig.wide_leads else 0.0


def too_far_forward_mm(job: Job, pattern: Pattern, end: End, fence_mm: float) -> float:
    """How much further towards the person the fence, at F, reaches than the board's trailing corner lets it; 0 or less
    if it doesn't.

    At the end of a cut the board's edge meets the fence's face W/tan θ - m sin θ - L/cos θ in front of the blade (m the
    mark, L the tail length): a fence that reaches further forward is fouled if the board is long enough to get there.
    """
    if swings_out_mm(job, pattern) <= 0:
        return 0.0
    mark = mark_at_fence_mm(job.shop.jig, job.shop.saw.kerf_mm, fence_mm)
    return job.shop.fence.front_mm - _meets_mm(job, pattern, end, mark)


def _meets_mm(job: Job, pattern: Pattern, end: End, mark_mm: float) -> float:
    """How far in front of the blade the board's edge meets the fence's face at the end of a cut."""
    jig = job.shop.jig
    deep = mark_mm * math.sin(jig.slope) + pattern.ends[end].tail_length_mm / math.cos(jig.slope)
    return jig.leading_width_mm / math.tan(jig.slope) - deep


def scale_grid(job: Job) -> Grid | None:
    """The fence positions at which the scale reads a graduation exactly."""
    fence = job.shop.fence
    if fence.graduation is None:
        return None
    return Grid(-fence.zero_mm, float(fence.graduation.step_mm))
