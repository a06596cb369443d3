"""The board as it lies on the saw's table, drawn to scale from above, with words at their places."""

from __future__ import annotations

from functools import lru_cache
from itertools import groupby

from textual.content import Content

from coach.tui.drawing.captions import label
from coach.tui.drawing.frame import GAP, blade_mm, frame_of
from coach.tui.drawing.raster import (
    BLADE,
    BROKEN,
    BROKEN_WOOD,
    FENCE,
    JIG,
    MADE,
    NOW,
    STOP,
    TABLE,
    WASTE,
    WOOD,
    Canvas,
    Frame,
    Sheet,
)
from coach.tui.drawing.shapes import Shown, TableView, end_view_of, rig_of, shown, view_of

__all__ = ["LEAST_COLUMNS", "LEAST_ROWS", "Shown", "TableView", "end_view_of", "lines", "rig_of", "shown", "view_of"]

LEAST_COLUMNS, LEAST_ROWS = 30, 7
"""The least room in which the drawing says anything."""
BOARD = {WOOD, WASTE, MADE, NOW}
"""Materials that are part of the board, or were."""


def lines(view: TableView, columns: int, rows: int, *, plain: bool) -> list[Content]:
    """The drawing in exactly so many rows, each so many columns wide; nothing if that is too little room.

    The board lies with its leading end at the blade, the moment before the cut.
    """
    return list(_lines(view, columns, rows, plain))


@lru_cache(maxsize=32)
def _lines(view: TableView, columns: int, rows: int, plain: bool) -> tuple[Content, ...]:
    if columns < LEAST_COLUMNS or rows < LEAST_ROWS:
        return ()
    frame = frame_of(view, columns, rows)
    sheet = Sheet(_painted(shown(view), view.kerf_mm, frame))
    _break_off(sheet, frame, plain=plain)
    label(sheet, frame, view, plain=plain)
    tail_at_left = view.rig is None or (view.side > 0) == view.rig[1].wide_leads
    return tuple(sheet.lines(plain=plain, tail_at_left=tail_at_left))


def _painted(seen: Shown, kerf_mm: float, frame: Frame) -> list[bytearray]:
    canvas = Canvas(frame)
    canvas.fill(seen.fence, FENCE)
    canvas.fill(seen.jig, JIG)
    canvas.fill(seen.stop, STOP)
    canvas.fill(seen.board, WOOD)
    for outline in seen.waste:
        canvas.fill(outline, WASTE)
    for outline in seen.gone:
        canvas.fill(outline, TABLE)
    for _, _, outline in seen.kerfs_made:
        canvas.stroke(outline, kerf_mm, MADE)
    if seen.kerf_now:
        (near, low), (far, _), *_ = seen.blade
        high = blade_mm(frame)
        canvas.stroke(((near, low), (far, low), (far, high), (near, high)), kerf_mm, BLADE)
        canvas.stroke(seen.kerf_now, kerf_mm, NOW)
    return canvas.cells()


def _break_off(sheet: Sheet, frame: Frame, *, plain: bool) -> None:
    """Break lines: below across whatever goes on there, where a part between two panes is left out, and at the
    picture's side where the board goes on."""
    signs = ("/", "\\") if plain else ("╱", "╲")
    last = frame.rows - 1
    for style, here in groupby(range(frame.columns), lambda column: _broken(sheet.cells[last][column])):
        run = list(here)
        if style is not None:
            sheet.write(last, run[0], "".join(signs[column % 2] for column in run), style)
    gaps = [range(pane.first - GAP, pane.first) for pane in frame.panes[1:]]
    for gap in (range(1), *gaps):
        at = frame.columns - gap.stop if frame.mirrored else gap.start
        for row in range(last):
            cells = sheet.cells[row]
            beside = (at,) if gap.start == 0 else (at - 1, at + GAP)
            styles = [_broken(cells[column]) for column in beside]
            style = BROKEN_WOOD if BROKEN_WOOD in styles else max(styles, key=bool)
            if style is not None and (gap.start or style == BROKEN_WOOD):
                sheet.write(row, at, signs[row % 2] * len(gap), style)


def _broken(code: int) -> int | None:
    """The style of a break across a cell; None if there is nothing but the table."""
    if not code:
        return None
    return BROKEN_WOOD if {code & 15, code >> 4} & BOARD else BROKEN
