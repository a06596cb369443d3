"""The mark as measured on a scrap cut: from one edge, or from both."""

from __future__ import annotations

import math
from dataclasses import dataclass

from coach.ground.errors import CoachError
from coach.ground.lengths import parse_length
from coach.plan.steps import Step
from coach.record.batch.session import Session
from coach.shop.tools import Jig
from coach.talk.asking import Asker, Choice
from coach.telling.phrases import Saying

TOO_FAR_MM = 10.0
"""A scrap cut further off than this is a fence set wrong, or a slip of the pen; an offset wouldn't cure it."""


KERF_OFF_MM = 0.3
"""A measure that is a kerf's width away from what is expected, within so much, may go to the kerf's other side."""


def marks_from_both(jig: Jig, kerf_mm: float, width_mm: float, left_mm: float) -> tuple[float, float]:
    """The two marks in mm that leave so much wood between the kerfs of a scrap cut from both edges.

    The mark m is the kerf's side that faces the tail: its far side on a jig whose wide end leads, else its near one; k
    is the kerf along the end. Far sides: kerfs that stand apart leave width - 2m, crossed ones 2(m - k) - width. Near
    sides: apart they leave width - 2(m + k), crossed 2m - width.

    Returns:
        the mark if the kerfs stand apart, and the mark if they have crossed.
    """
    kerf = kerf_mm / math.cos(jig.slope)
    apart, crossed = (0.0, kerf) if jig.wide_leads else (-kerf, 0.0)
    return (width_mm - left_mm) / 2 + apart, (width_mm + left_mm) / 2 + crossed


@dataclass(frozen=True, slots=True)
class Measured:
    """What a measure on the scrap may mean.

    Attributes:
        marks_mm: what the mark may be: one, or several that only the person can tell apart.
        question: asks which.
        choices: an answer for each mark.
        told: what there is to know before answering.
    """

    marks_mm: tuple[float, ...]
    question: str = ""
    choices: tuple[Choice, ...] = ()
    told: tuple[str, ...] = ()


async def settled(asker: Asker, found: Measured) -> float | None:
    """The mark in mm, asked for where the measure may mean several; None if the person goes back."""
    if len(found.marks_mm) == 1:
        return found.marks_mm[0]
    chosen = await asker.choose(found.question, found.choices, found.told)
    return None if chosen is None else found.marks_mm[chosen]


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

    def from_one_edge(self, mark: str) -> Measured:
        """What a mark as typed may mean; CoachError if it isn't a length, or is far from what is expected.

        One that is off by the kerf's width may have been taken to the kerf's other side, which only the person knows.
        """
        mark_mm = self._believed(self.length(mark))
        kerf_mm = self.kerf_mm / math.cos(self.jig.slope)
        if abs(abs(mark_mm - self.expected_mm) - kerf_mm) > min(KERF_OFF_MM, kerf_mm / 3):
            return Measured((mark_mm,))
        other = "near" if self.side == "far" else "far"
        to_other_mm = mark_mm + (kerf_mm if other == "near" else -kerf_mm)
        show = self.saying.length
        return Measured(
            (mark_mm, to_other_mm),
            "To which side of the kerf was that measured, as seen from the edge?",
            (
                Choice(self.side[0], f"To the {self.side} side, as asked: {show(mark_mm)}"),
                Choice(other[0], f"To the {other} side: {show(to_other_mm)} then"),
            ),
            (f"{show(mark_mm)} is one kerf ({show(kerf_mm)}) away from {show(self.expected_mm)}.",),
        )

    def from_both_edges(self, width: str, left: str) -> Measured:
        """What the scrap's width and the wood left between its kerfs, as typed, may mean.

        On a scrap of over twice the mark the kerfs stand apart, on a narrower one they have crossed over. Where both
        make a mark that may be, only the person knows.

        Raises:
            CoachError: they aren't lengths, don't fit together, or make a mark far from what is expected.
        """
        width_mm, left_mm = self.length(width), self.length(left)
        if left_mm >= width_mm:
            raise CoachError("The wood left is no less than the scrap's width; expected less.")
        marks_mm = marks_from_both(self.jig, self.kerf_mm, width_mm, left_mm)
        nearer = self._believed(min(marks_mm, key=lambda mark: abs(mark - self.expected_mm)))
        show = self.saying.length
        if show(marks_mm[0]) == show(marks_mm[1]) or any(
            abs(mark - self.expected_mm) > TOO_FAR_MM for mark in marks_mm
        ):
            return Measured((nearer,))
        apart, crossed = marks_mm
        return Measured(
            marks_mm,
            "Have the two kerfs crossed?",
            (
                Choice("n", f"No: each kerf stands on its own edge's half, {show(apart)} from it"),
                Choice("y", f"Yes: each has gone past the other, {show(crossed)} from its edge"),
            ),
            (
                f"A scrap {show(width_mm)} wide is about twice the mark. One well over twice as wide as "
                f"{show(self.expected_mm)} leaves no doubt.",
            ),
        )

    def _believed(self, mark_mm: float) -> float:
        off = abs(mark_mm - self.expected_mm)
        if off > TOO_FAR_MM:
            raise CoachError(
                f"That is {self.saying.length(off)} off. Look at the fence and measure again; if it is so, set the "
                f"fence anew ({self.back}, then u) before you correct the rest."
            )
        return mark_mm
