"""How a cut goes wrong, and what comes of it."""

from __future__ import annotations

from enum import StrEnum


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
