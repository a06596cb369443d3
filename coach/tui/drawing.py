"""A drawing of the board's leading end as it lies on the table, seen from above, with the kerf to cut now."""

from __future__ import annotations

import math
from dataclasses import dataclass

from coach.joint.layout import EndLayout
from coach.words import Edge, Hand, Lie

WOOD, WASTE, CUT, NOW, BASELINE = "wood", "waste", "cut", "now", "baseline"

GLYPHS = {WOOD: "░", WASTE: "╱", CUT: "│", NOW: "█", BASELINE: "┄"}
ASCII_GLYPHS = {WOOD: ".", WASTE: "/", CUT: "|", NOW: "#", BASELINE: "-"}


@dataclass(frozen=True, slots=True)
class View:
    """What is drawn: one end of a board, leading away from the person.

    Attributes:
        lie: the end that leads and the edge at the jig.
        fence_side: the side on which jig and fence are.
        done: sides of this end that are cut.
        now: the side to cut now, if any.
    """

    joint: EndLayout
    width_mm: float
    slope: float
    kerf_mm: float
    lie: Lie
    fence_side: Hand
    done: frozenset[tuple[int, Edge]]
    now: tuple[int, Edge] | None


def draw(view: View, columns: int, rows: int) -> list[list[str]]:
    """The cells of the drawing, row by row from the leading end; each is one of the names that `GLYPHS` has.

    The width is to scale. Along the board the tail length takes all rows but the last two: one for the baseline and
    one for the wood beyond it.
    """
    top_at_left = (view.lie.edge is Edge.TOP) != (view.fence_side is Hand.RIGHT)
    depth = max(1, rows - 2)
    cells = []
    for row in range(rows):
        if row == depth:
            cells.append([BASELINE] * columns)
            continue
        if row > depth:
            cells.append([WOOD] * columns)
            continue
        line = _row(view, (row + 0.5) / depth * view.joint.tail_length_mm, columns)
        cells.append(line if top_at_left else line[::-1])
    return cells


def kerf_column(view: View, columns: int) -> int | None:
    """The column at which the kerf to cut now meets the end."""
    if view.now is None:
        return None
    top_at_left = (view.lie.edge is Edge.TOP) != (view.fence_side is Hand.RIGHT)
    column = _column(view, view.now, 0.0, columns)
    return column if top_at_left else columns - 1 - column


def _row(view: View, at_mm: float, columns: int) -> list[str]:
    """One row from the top edge to the bottom edge, `at_mm` from the end."""
    line = [WASTE] * columns
    for start, stop in view.joint.tail_spans_mm(view.width_mm, at_mm, view.slope):
        first = max(0, math.ceil(start / view.width_mm * columns - 0.5))
        last = min(columns - 1, math.floor(stop / view.width_mm * columns - 0.5))
        line[first : last + 1] = [WOOD] * (last - first + 1)
    for side in view.done:
        line[_column(view, side, at_mm, columns)] = CUT
    if view.now is not None:
        line[_column(view, view.now, at_mm, columns)] = NOW
    return line


def _column(view: View, side: tuple[int, Edge], at_mm: float, columns: int) -> int:
    """The column, counted from the top edge, in which the middle of a side's kerf lies `at_mm` from the end."""
    tail, faces = side
    half = view.kerf_mm / math.cos(view.slope) / 2
    middle = view.joint.mark_mm(tail, faces) + at_mm * math.tan(view.slope) - half
    if faces is Edge.BOTTOM:
        middle = view.width_mm - middle
    return min(columns - 1, max(0, int(middle / view.width_mm * columns)))
