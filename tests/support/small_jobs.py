"""Small shops, boards and jobs, built directly and not from files."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction

from coach.ground.lengths import Graduation
from coach.ground.terms import End, Hand, Joint
from coach.joint.layout import EndLayout, Layout, Part
from coach.plan.job import Job, make_job
from coach.shop.tools import Fence, Jig, Saw, Shop

ONE_IN_EIGHT = math.atan(1 / 8)


def plain(mm: float) -> str:
    """A length as tests show it."""
    return f"{mm:.3f}"


def shop(
    *,
    kerf_mm: float = 0.9,
    wide_leads: bool = True,
    leading_width_mm: float = 80.0,
    slope: float = ONE_IN_EIGHT,
    fence_side: Hand = Hand.RIGHT,
    column_side: Hand = Hand.LEFT,
    throat_mm: float = 345.0,
    fence_min_mm: float = 0.0,
    fence_max_mm: float = 300.0,
    front_mm: float = 200.0,
    body_mm: float = 0.0,
    graduation_mm: str | None = None,
    zero_mm: float = 0.0,
) -> Shop:
    """A shop with one fence and one jig; without a graduation the fence has no scale."""
    graduation = None if graduation_mm is None else Graduation(Fraction(graduation_mm), "mm")
    return Shop(
        Saw(kerf_mm, column_side, throat_mm, "stopped"),
        (Fence(fence_side, fence_min_mm, fence_max_mm, front_mm, body_mm, graduation, zero_mm),),
        (Jig("test jig", slope, leading_width_mm, wide_leads, 300.0, 6.0),),
    )


def joint(
    top_marks_mm: Sequence[float], bottom_marks_mm: Sequence[float] | None = None, *, mates_with_mm: float = 12.0
) -> EndLayout:
    """A through joint; without bottom marks they are as the top ones."""
    bottom = top_marks_mm if bottom_marks_mm is None else bottom_marks_mm
    return EndLayout(Joint.THROUGH, mates_with_mm, 0.0, 0.0, tuple(top_marks_mm), tuple(bottom))


def part(
    ends: Mapping[End, EndLayout],
    *,
    label: str = "side",
    boards: int = 1,
    spares: int = 0,
    handed: bool = False,
    width_mm: float = 57.0,
    widest_mm: float | None = None,
    length_mm: float = 380.0,
) -> Part:
    """Boards that are alike; as wide as meant unless said otherwise."""
    widest = width_mm if widest_mm is None else widest_mm
    return Part(label, boards, spares, handed, width_mm, widest, 10.0, length_mm, ends)


def job(parts: Sequence[Part], tools: Shop | None = None, *, tolerance_mm: float | None = None) -> Job:
    """One layout of these parts, to be cut with these tools."""
    return make_job([Layout("test layout", None, tolerance_mm, None, tuple(parts))], tools or shop())


def two_tails(tools: Shop | None = None, *, boards: int = 1, spares: int = 0, tolerance_mm: float | None = None) -> Job:
    """Boards 57 mm wide with two even tails at both ends: half-pin sockets of 5 mm, a socket of 4 mm."""
    end = joint((5.0, 30.5))
    return job([part({End.A: end, End.B: end}, boards=boards, spares=spares)], tools, tolerance_mm=tolerance_mm)
