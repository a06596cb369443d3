"""Kerfs in a board's wood that stand for none of its sides, and what they mean for what comes after."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coach.ground.terms import Edge, End, Side
from coach.plan.job import Job, Pattern, laid_out
from coach.plan.judging.kerf_in_tails import Bite, bite, tail_met
from coach.plan.judging.mistakes import Mistake
from coach.plan.reach import best_fence_mm
from coach.plan.walking.walker import Walker


@dataclass(frozen=True, slots=True)
class StrayKerf:
    """A kerf in a board's wood that stands for none of its sides.

    Attributes:
        cut_by: the job with the fence and jig that made it in use.
        fence_mm: where the fence stood (F).
        end: the end that led.
        faces: the edge that the sides face which such a kerf makes.
    """

    cut_by: Job
    fence_mm: float
    end: End
    faces: Edge

    def bite(self, pattern: Pattern) -> Bite | None:
        """The tail of a layout that it spoils worst, or None; its end gets tails."""
        meets = tail_met(pattern, self.cut_by, self.fence_mm, self.end, self.faces)
        return bite(pattern, self.cut_by, self.fence_mm, self.end, self.faces, meant=meets)


def bite_of_any(strays: Sequence[StrayKerf], pattern: Pattern, end: End) -> Bite | None:
    """What any of the stray kerfs at an end takes of its tails, as a layout has them."""
    bites = (stray.bite(pattern) for stray in strays if stray.end is end)
    return next((found for found in bites if found is not None), None)


def stray_kerf(then: Walker, side: Side, mistake: Mistake, off_mm: float) -> StrayKerf:
    """Where the kerf is that was meant for a side and isn't there.

    Args:
        then: the walk as it stood when the cut was made.
        off_mm: as for `judge`.
    """
    cut_by, fence_mm = rig_and_fence(then, side)
    match mistake:
        case Mistake.WRONG_EDGE:
            return StrayKerf(cut_by, fence_mm, side.end, side.faces.other)
        case Mistake.WRONG_END:
            return StrayKerf(cut_by, fence_mm, side.end.other, side.faces)
    first = then.job.patterns[laid_out(then.job, then.job.board(side.board).pattern)]
    stood = stood_mm(cut_by, first, side, off_line_mm(cut_by, mistake, off_mm))
    return StrayKerf(cut_by, stood, side.end, side.faces)


def rig_and_fence(then: Walker, side: Side) -> tuple[Job, float]:
    """The job with the rig in use that cut a side, and where its fence was set."""
    key = (side.end, side.tail, side.faces)
    setting = then.settings.serving(then.job.board(side.board))[key]
    return then.job_at(setting), then.cuts_at_mm(setting)


def off_line_mm(cut_by: Job, mistake: Mistake, off_mm: float) -> float:
    """How far a kerf is from its mark as drawn: said, or by its own width along the end on the line's wrong side."""
    return cut_by.shop.saw.kerf_mm / math.cos(cut_by.shop.jig.slope) if mistake is Mistake.WRONG_SIDE else off_mm


def stood_mm(cut_by: Job, pattern: Pattern, side: Side, off_mm: float) -> float:
    """Where the fence would have stood (F) for a kerf so far from a side's mark as drawn, positive into the tail."""
    jig = cut_by.shop.jig
    far = off_mm * math.cos(jig.slope) * (1 if jig.wide_leads else -1)
    return best_fence_mm(cut_by, pattern, (side.end, side.tail, side.faces)) + far
