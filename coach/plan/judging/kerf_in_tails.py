"""What a kerf takes from the tails of an end: how far in from the nearer side it reaches, and whether it goes through.

A kerf never shares more wood with a tail than it is wide, so that says nothing of how much harm is done: what counts is
how far in from the nearer of the tail's two sides it reaches. Where wood of the tail is left on both sides of it, the
tail is cut through, and no tolerance makes that good.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from coach.ground.terms import Edge, End
from coach.joint.limits import Show
from coach.plan.geometry import kerf_span_mm, lie_for
from coach.plan.job import Job, Pattern
from coach.plan.reach import shift_mm

NEAR = 1e-6  # mm: what rounding of floats may add up to


class Harm(Enum):
    """What a kerf does to a tail."""

    REACHES_IN = "reaches in"
    CUTS_THROUGH = "cuts through"
    TAKES_IT_ALL = "takes it all"


@dataclass(frozen=True, slots=True)
class Bite:
    """A tail that a kerf spoils.

    Attributes:
        tail: its number, from the top edge.
        deep_mm: how far in from its nearer side the kerf reaches, along the end.
        side: the edge that the nearer side faces.
    """

    tail: int
    harm: Harm
    deep_mm: float
    side: Edge

    def words(self, end: End, show: Show) -> str:
        """What the kerf does, as a sentence without its full stop."""
        match self.harm:
            case Harm.CUTS_THROUGH:
                return f"the kerf goes right through tail {self.tail} at end {end}: the tail is cut through"
            case Harm.TAKES_IT_ALL:
                return f"the kerf takes tail {self.tail} at end {end} away altogether"
        return f"the kerf reaches {show(self.deep_mm)} into tail {self.tail} at end {end}, from its {self.side} side"


def tail_met(pattern: Pattern, cut_by: Job, fence_mm: float, end: End, faces: Edge) -> int | None:
    """The tail that a kerf made at `end` for the sides that face `faces` makes a side of, within tolerance, or None."""
    shifts = {
        tail: abs(shift_mm(cut_by, pattern, (end, tail, faces), fence_mm))
        for tail in range(1, pattern.ends[end].tails + 1)
    }
    nearest = min(shifts, key=lambda tail: (shifts[tail], tail))
    return nearest if shifts[nearest] <= cut_by.tolerance_mm(pattern) + 1e-9 else None


def bite(
    pattern: Pattern, cut_by: Job, fence_mm: float, end: End, faces: Edge, *, meant: int | None = None
) -> Bite | None:
    """The tail that is spoiled worst by the kerf made at `end` for the sides that face `faces`, or None.

    Kerf and tails are looked at where the end is and at the baseline. In between the kerf keeps its distance from the
    sides to which it is parallel and comes steadily nearer to the others, so that nowhere it is worse than at both.

    Args:
        cut_by: the job with the fence and jig that make the cut in use.
        fence_mm: where the fence stands (F).
        meant: the tail whose side the kerf makes. As far as the kerf lies in that tail its mark has shifted, and what
            is left on the waste's side is waste: it isn't looked at.
    """
    shop = cut_by.shop
    joint, width = pattern.ends[end], pattern.part.width_mm
    lie = lie_for(shop.jig, end, faces)
    found: list[Bite] = []
    for at in (0.0, joint.tail_length_mm):
        near, far = kerf_span_mm(shop.jig, shop.saw.kerf_mm, fence_mm, at)
        kerf = (near, far) if lie.edge is Edge.TOP else (width - far, width - near)
        for tail, span in enumerate(joint.tail_spans_mm(width, at, shop.jig.slope), 1):
            one = None if tail == meant else _bite_of(tail, kerf, span, cut_by.tolerance_mm(pattern))
            if one is not None:
                found.append(one)
    return max(found, key=lambda one: (one.harm is not Harm.REACHES_IN, one.deep_mm), default=None)


def _bite_of(tail: int, kerf: tuple[float, float], span: tuple[float, float], tolerance_mm: float) -> Bite | None:
    """What a kerf does to one tail, both as spans from the top edge at one distance from the end."""
    from_top, from_bottom = kerf[1] - span[0], span[1] - kerf[0]
    deep, side = min((from_top, Edge.TOP), (from_bottom, Edge.BOTTOM))
    if deep <= NEAR:
        return None
    if kerf[0] > span[0] + NEAR and kerf[1] < span[1] - NEAR:
        return Bite(tail, Harm.CUTS_THROUGH, deep, side)
    if kerf[0] <= span[0] + NEAR and kerf[1] >= span[1] - NEAR:
        return Bite(tail, Harm.TAKES_IT_ALL, span[1] - span[0], side)
    return Bite(tail, Harm.REACHES_IN, deep, side) if deep > tolerance_mm + NEAR else None
