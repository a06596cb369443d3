"""The marks that fall where the fence's scale reads a graduation exactly, as whole numbers of graduations."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from coach.ground.errors import CoachError
from coach.joint.layout import Layout
from coach.plan.deciding.decide import decide
from coach.plan.geometry import fence_for_mark_mm, mark_at_fence_mm
from coach.plan.job import EQUAL_MM, Job
from coach.shop.tools import Jig, Shop

_APART = 0.49  # of a graduation


@dataclass(frozen=True, slots=True)
class Graduations:
    """A fence's graduations, numbered from the one at which the scale reads 0.

    With F + zero = n · step and F = W + m cos θ - k, the marks m of two graduations lie step / cos θ apart.

    Attributes:
        step_mm: from one graduation to the next.
        zero_mm: what the scale reads when F = 0.
    """

    jig: Jig
    kerf_mm: float
    zero_mm: float
    step_mm: float

    @classmethod
    def of(cls, shop: Shop, *, otherwise_mm: float | None = None) -> Graduations | None:
        """The graduations of the shop's fence; without a scale those of a step of `otherwise_mm`, or None."""
        scale = shop.fence.graduation
        if scale is not None:
            return cls(shop.jig, shop.saw.kerf_mm, shop.fence.zero_mm, float(scale.step_mm))
        return None if otherwise_mm is None else cls(shop.jig, shop.saw.kerf_mm, 0.0, otherwise_mm)

    @property
    def spacing_mm(self) -> float:
        """From one mark to the next along the end."""
        return self.step_mm / math.cos(self.jig.slope)

    def fence_mm(self, number: int) -> float:
        """Where the fence stands at a graduation."""
        return number * self.step_mm - self.zero_mm

    def position(self, mark_mm: float, width_mm: float) -> float:
        """On which graduation a mark falls, whole if it falls on one exactly.

        Args:
            mark_mm: from the edge that the side faces.
            width_mm: of the board; a jig whose narrow end leads bears on the other edge.
        """
        from_jig = mark_mm if self.jig.wide_leads else width_mm - mark_mm
        return (fence_for_mark_mm(self.jig, self.kerf_mm, from_jig) + self.zero_mm) / self.step_mm

    def mark_mm(self, number: int, width_mm: float) -> float:
        """The mark that a graduation cuts, from the edge that the side faces; the inverse of `position`."""
        from_jig = mark_at_fence_mm(self.jig, self.kerf_mm, self.fence_mm(number))
        return from_jig if self.jig.wide_leads else width_mm - from_jig


def few_boards(layout: Layout) -> Layout:
    """The layout with a board of each part, or a left and a right: as good as all of them for settings and proof."""
    parts = (replace(part, boards=2 if part.handed else 1, spares=0) for part in layout.parts)
    return replace(layout, parts=tuple(parts))


def cut_alone(job: Job, fences_mm: Collection[float]) -> bool:
    """Whether the job's settings are these, each for itself: no wide tolerance lets one between two serve both."""
    try:
        found = decide(job).fence_mm
    except CoachError:
        return False
    return len(found) == len(fences_mm) and all(
        abs(one - other) < EQUAL_MM for one, other in zip(sorted(found), sorted(fences_mm), strict=True)
    )


def apart_mm(layouts: Iterable[Layout], graduations: Graduations) -> float:
    """A tolerance along the end with which no setting between two graduations serves the marks on both.

    It is no wider than any that the layouts have, nor than a quarter of their narrowest tail at the baseline.
    """
    slope = graduations.jig.slope
    widest = _APART * graduations.spacing_mm
    for layout in layouts:
        if layout.tolerance_mm is not None:
            widest = min(widest, layout.tolerance_mm)
        for part in layout.parts:
            for joint in part.ends.values():
                tails = joint.tail_widths_mm(part.width_mm, joint.tail_length_mm, slope)
                widest = min(widest, *(tail / 4 for tail in tails))
    return widest
