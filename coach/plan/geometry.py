"""Where the fence stands for a mark, and what a fence setting cuts. Lengths in mm, slopes in radians.

On the saw's table the blade cuts towards +y, the kerf fills -k ≤ x ≤ 0 and the fence's face is at x = F (a fence at the
left is the mirror image). The jig is W wide at its stop. For a jig whose wide end leads, the corner of the board's
jig-side edge and its leading end is at x = F - W, and the edge slants by the slope θ, so that a point d along the end
from that edge and v along the length lies at x = F - W - d cos θ + v sin θ. With the narrow end leading the last sign
is the other one.
"""

from __future__ import annotations

import math

from coach.ground.terms import Edge, End, Lie
from coach.joint.layout import EndLayout
from coach.shop.tools import Jig, Shop


def lie_for(jig: Jig, end: End, faces: Edge) -> Lie:
    """How a board has to lie for the side that faces `faces` at `end` to be cut.

    A jig whose wide end leads cuts the sides that face the edge at the jig, since d grows along the cut; one whose
    narrow end leads cuts those that face away from it.
    """
    return Lie(end, faces if jig.wide_leads else faces.other)


def mark_from_jig_mm(jig: Jig, joint: EndLayout, width_mm: float, tail: int, faces: Edge) -> float:
    """A side's mark, measured along the end from the edge that bears on the jig."""
    mark = joint.mark_mm(tail, faces)
    return mark if jig.wide_leads else width_mm - mark


def fence_for_mark_mm(jig: Jig, kerf_mm: float, mark_mm: float) -> float:
    """F, from the fence's face to the near side of the kerf, for a mark measured from the edge at the jig.

    With the wide end leading the waste lies between edge and mark, so the kerf's far side (x = -k) stands on the mark:
    F = W + m cos θ - k. With the narrow end leading the waste is beyond the mark, so its near side does:
    F = W + m cos θ.
    """
    far = kerf_mm if jig.wide_leads else 0.0
    return jig.leading_width_mm + mark_mm * math.cos(jig.slope) - far


def mark_at_fence_mm(jig: Jig, kerf_mm: float, fence_mm: float) -> float:
    """The mark at which a fence setting cuts, from the edge at the jig: the inverse of `fence_for_mark_mm`."""
    far = kerf_mm if jig.wide_leads else 0.0
    return (fence_mm - jig.leading_width_mm + far) / math.cos(jig.slope)


def fence_range_mm(shop: Shop) -> tuple[float, float]:
    """The nearest and the furthest F at which the fence in use can stand: where its bar lets it, and where the column
    is on its side the throat less its own body."""
    fence, saw = shop.fence, shop.saw
    furthest = min(fence.max_mm, saw.throat_mm - fence.body_mm) if fence.side is saw.column_side else fence.max_mm
    return fence.min_mm, furthest


def kerf_span_mm(jig: Jig, kerf_mm: float, fence_mm: float, at_mm: float) -> tuple[float, float]:
    """The kerf `at_mm` from the end, as (near, far) along the end from the edge at the jig."""
    slant = at_mm * math.sin(jig.slope)
    if not jig.wide_leads:
        slant = -slant
    near = (fence_mm - jig.leading_width_mm + slant) / math.cos(jig.slope)
    return near, near + kerf_mm / math.cos(jig.slope)


def cut_length_mm(jig: Jig, tail_length_mm: float) -> float:
    """How far the board travels through the blade: the tail length over the cosine of the slope."""
    return tail_length_mm / math.cos(jig.slope)
