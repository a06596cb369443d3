"""How a cut goes wrong, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from coach.ground.terms import Side
from coach.joint.layout import EndLayout


class Mistake(StrEnum):
    """How a cut went wrong."""

    OFF_LINE = "off the line"
    WRONG_SIDE = "wrong side of the line"
    TOO_DEEP = "too deep"
    WRONG_EDGE = "wrong edge at the jig"
    WRONG_END = "wrong end leading"


class Verdict(StrEnum):
    """What comes of it."""

    WITHIN = "within tolerance"
    CUT_AGAIN = "cut again"
    COUNTS_AS = "counts as another cut"
    MENDABLE = "mendable"
    SPOILED = "spoiled"


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a wrong cut means.

    Attributes:
        lines: why, and what the sockets and tails become, for a person.
        joint: the end's layout with the marks that serve now; None if they stay as they are.
        counts_as: the side that was cut instead.
        may_stay: whether the layout may stay as it is instead, since the fault only shows.
    """

    verdict: Verdict
    lines: tuple[str, ...]
    joint: EndLayout | None = None
    counts_as: Side | None = None
    may_stay: bool = False
