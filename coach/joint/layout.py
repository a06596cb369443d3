"""Layouts: parts, their ends, and the marks of the tails' sides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from coach.ground.lengths import Unit
from coach.ground.terms import Edge, End, Joint

MOST_BOARDS = 10_000
MOST_TAILS = 100
"""How many boards a batch, and how many tails an end, may have."""


@dataclass(frozen=True, slots=True)
class EndLayout:
    """The joint at one end of a tail board; lengths in mm.

    Attributes:
        mates_with_mm: thickness of the pin board.
        lap_mm: what a half-blind joint leaves in front of the tails' ends; 0 for a through one.
        baseline_mm: allowance added to the tail length, may be negative.
        top_marks_mm: where the sides that face the top edge meet the end, from the top edge, ascending.
        bottom_marks_mm: the same from the bottom edge.
    """

    joint: Joint
    mates_with_mm: float
    lap_mm: float
    baseline_mm: float
    top_marks_mm: tuple[float, ...]
    bottom_marks_mm: tuple[float, ...]

    @property
    def tail_length_mm(self) -> float:
        """From the end to the baseline: the pin board's thickness, less the lap, plus the allowance."""
        return self.mates_with_mm - self.lap_mm + self.baseline_mm

    @property
    def tails(self) -> int:
        """How many tails this end has."""
        return len(self.top_marks_mm)

    def mark_mm(self, tail: int, faces: Edge) -> float:
        """The mark of a side, from the edge that it faces; tails count from the top edge, from 1."""
        if faces is Edge.TOP:
            return self.top_marks_mm[tail - 1]
        return self.bottom_marks_mm[self.tails - tail]

    def tail_spans_mm(self, width_mm: float, at_mm: float, slope: float) -> list[tuple[float, float]]:
        """The tails `at_mm` from the end, each as (from, to) measured from the top edge of a board `width_mm` wide."""
        inset = at_mm * math.tan(slope)
        return [
            (
                self.mark_mm(tail, Edge.TOP) + inset,
                width_mm - self.mark_mm(tail, Edge.BOTTOM) - inset,
            )
            for tail in range(1, self.tails + 1)
        ]

    def tail_widths_mm(self, width_mm: float, at_mm: float = 0.0, slope: float = 0.0) -> list[float]:
        """How wide the tails are `at_mm` from the end, from the top edge on."""
        return [to - start for start, to in self.tail_spans_mm(width_mm, at_mm, slope)]

    def socket_widths_mm(self, width_mm: float) -> list[float]:
        """How wide the sockets are at the end: the half-pin socket at the top edge, the inner ones, the last one."""
        spans = self.tail_spans_mm(width_mm, 0.0, 0.0)
        edges = [0.0, *(edge for span in spans for edge in span), width_mm]
        return [to - start for start, to in zip(edges[::2], edges[1::2], strict=True)]


@dataclass(frozen=True, slots=True)
class Groove:
    """A groove along the inside face, measured from the bottom edge; mm."""

    from_bottom_mm: float
    width_mm: float


@dataclass(frozen=True, slots=True)
class Part:
    """Boards that are alike; lengths in mm.

    Attributes:
        spares: boards cut along with the others.
        handed: lefts and rights in turn; on rights what is said of ends A and B is swapped.
        widest_mm: the widest of the boards as measured, not less than the width.
        ends: the layout of each end that is cut.
    """

    label: str
    boards: int
    spares: int
    handed: bool
    width_mm: float
    widest_mm: float
    thickness_mm: float
    length_mm: float
    ends: Mapping[End, EndLayout]
    groove: Groove | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """A saved layout.

    Attributes:
        slope: the slope that the layout was drawn for, in radians, if it says so; the jig's own slope is what gets cut.
        tolerance_mm: how far a mark may shift along the end, if the layout says so.
        unit: the one in which most of its lengths are written.
    """

    name: str
    slope: float | None
    tolerance_mm: float | None
    species: str | None
    parts: tuple[Part, ...]
    unit: Unit = "mm"
