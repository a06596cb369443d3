"""The mark as measured on a scrap cut: from one edge, or from both."""

from __future__ import annotations

import math
from dataclasses import dataclass

from coach.errors import CoachError
from coach.lengths import parse_length
from coach.plan.steps import Step
from coach.record.session import Session
from coach.sheets.saying import Saying
from coach.shop.tools import Jig

TOO_FAR_MM = 10.0
"""A scrap cut further off than this is a fence set wrong, or a slip of the pen; an offset wouldn't cure it."""


def mark_from_both(jig: Jig, kerf_mm: float, width_mm: float, left_mm: float, expected_mm: float) -> float:
    """The mark in mm, from a scrap cut from both edges and the wood left between its two kerfs.

    The mark is the kerf's side that faces the tail: its far side on a jig whose wide end leads, else its near one. On a
    scrap of over twice the mark the kerfs stand apart by what the two marks leave, on a narrower one they have crossed
    over. Of the two marks that leave so much wood, it is the one nearest to what is expected.
    """
    kerf = kerf_mm / math.cos(jig.slope)
    apart, crossed = (0.0, kerf) if jig.wide_leads else (-kerf, 0.0)
    marks = ((width_mm - left_mm) / 2 + apart, (width_mm + left_mm) / 2 + crossed)
    return min(marks, key=lambda mark: abs(mark - expected_mm))


@dataclass(frozen=True, slots=True)
class ScrapCut:
    """What is expected of a scrap cut, and what is made of what a person measures on it.

    Attributes:
        back: how the person gets from what is asked back to the fence, said where the cut is far off.
    """

    expected_mm: float
    jig: Jig
    kerf_mm: float
    saying: Saying
    back: str

    @classmethod
    def at(cls, session: Session, step: Step, saying: Saying, back: str) -> ScrapCut:
        """The scrap cut of `step`, which is a check."""
        assert step.mark_mm is not None and step.setting is not None
        shop = session.walker.job_at(step.setting).shop
        return cls(step.mark_mm, shop.jig, shop.saw.kerf_mm, saying, back)

    @property
    def side(self) -> str:
        """The kerf's side to which is measured, as seen from the edge at the jig."""
        return "far" if self.jig.wide_leads else "near"

    def length(self, typed: str) -> float:
        """A length in mm, as typed; CoachError if it isn't one."""
        return float(parse_length(typed))

    def from_one_edge(self, mark: str) -> float:
        """The mark in mm, from its length as typed; CoachError if it isn't one, or is far from what is expected."""
        return self._believed(self.length(mark))

    def from_both_edges(self, width: str, left: str) -> float:
        """The mark in mm, from the scrap's width and the wood left between its kerfs, as typed.

        Raises:
            CoachError: they aren't lengths, don't fit together, or make a mark far from what is expected.
        """
        width_mm, left_mm = self.length(width), self.length(left)
        if left_mm >= width_mm:
            raise CoachError("The wood left is no less than the scrap's width; expected less.")
        return self._believed(mark_from_both(self.jig, self.kerf_mm, width_mm, left_mm, self.expected_mm))

    def _believed(self, mark_mm: float) -> float:
        off = abs(mark_mm - self.expected_mm)
        if off > TOO_FAR_MM:
            raise CoachError(
                f"That is {self.saying.length(off)} off. Look at the scale and measure again; if it is so, set the "
                f"fence anew ({self.back}, then u) before you correct the rest."
            )
        return mark_mm
