"""The words in the drawing of a board on the table: what lies where, said at its place."""

from __future__ import annotations

import re

from coach.tui.drawing.raster import (
    BASELINE,
    BLADE,
    BROKEN_WOOD,
    FENCE,
    JIG,
    ON_SAW,
    ON_TABLE,
    ON_WOOD,
    POINTER,
    STOP,
    TABLE,
    WOOD,
    Frame,
    Sheet,
    whole,
)
from coach.tui.drawing.shapes import TableView, placing, shown

STYLES = {TABLE: ON_TABLE, WOOD: ON_WOOD, JIG: ON_SAW, FENCE: ON_SAW, STOP: ON_SAW}
"""In which style words are written over a material."""


def label(sheet: Sheet, frame: Frame, view: TableView, *, plain: bool) -> None:
    """Writes the words, the most important first; one for which there is no room at its place is left out."""
    if view.now is not None:
        _point_at_kerf(sheet, frame, view, plain=plain)
    _number_tails(sheet, frame, view)
    _draw_baseline(sheet, frame, view)
    board, root = placing(view), view.joint.tail_length_mm
    first = max(frame.row_of(board.at(at, root)[1]) for at in (0.0, view.width_mm)) + 1
    body = range(min(first, frame.rows - 2), frame.rows - 1)
    _in_longest(sheet, body[len(body) // 2], WOOD, f"{view.face_up} face up", f"{view.face_up} up")
    _name_end(sheet, frame, view)
    _name_edges(sheet, view, body)
    _name_saw(sheet, frame)


def _point_at_kerf(sheet: Sheet, frame: Frame, view: TableView, *, plain: bool) -> None:
    """An arrow over the blade, which stands where the kerf begins."""
    column = frame.column_of(-view.side * view.kerf_mm / 2)
    if column is None:
        return
    blade = next(row for row, cells in enumerate(sheet.cells) if BLADE in divmod(cells[column], 16))
    row = max(0, blade - 1)
    sheet.write(row, column, "v" if plain else "▼", POINTER)
    for words, style, at in (("this kerf", POINTER, row), ("blade", ON_TABLE, row + 1)):
        if not sheet.write(at, column + 1, f" {words}", style, TABLE):
            sheet.write(at, column - len(words) - 1, f"{words} ", style, TABLE)


def _number_tails(sheet: Sheet, frame: Frame, view: TableView) -> None:
    """In the middle of each tail, or as near to that as a cell is all wood."""
    board, root = placing(view), view.joint.tail_length_mm
    for tail, (start, stop) in enumerate(view.joint.tail_spans_mm(view.width_mm, 0.0, view.slope), 1):
        for along in (0.5, 0.75, 0.25):
            x, y = board.at((start + stop) / 2, along * root)
            column = frame.column_of(x)
            if column is None or sheet.write(frame.row_of(y), column - len(str(tail)) // 2, str(tail), ON_WOOD, WOOD):
                break


def _draw_baseline(sheet: Sheet, frame: Frame, view: TableView) -> None:
    """Where the baseline crosses wood."""
    (x, y), (to_x, to_y) = shown(view).baseline
    for column in range(frame.columns):
        at = frame.at_mm(column, 0)
        if at is not None:
            row = frame.row_of(y + (to_y - y) * (at[0] - x) / (to_x - x))
            if 0 <= row < frame.rows and sheet.cells[row][column] == whole(WOOD)[0]:
                sheet.cells[row][column] = BASELINE


def _name_end(sheet: Sheet, frame: Frame, view: TableView) -> None:
    """Over the leading end's middle, or as near to that as there is room."""
    x, y = placing(view).at(view.width_mm / 2, 0.0)
    column, nearest = frame.column_of(x), max(0, frame.row_of(y) - 1)
    middle = frame.columns // 2 if column is None else column
    places = [(nearest - up, middle + away) for up in range(nearest + 1) for away in (0, -4, 4, -8, 8)]
    places += [(0, middle + sign * away) for away in range(frame.columns) for sign in (-1, 1)]
    choice = (f" end {view.lie.end} leads ", f" end {view.lie.end} ")
    for words in choice if view.rig is not None else choice[1:]:
        if any(sheet.write(row, at - len(words) // 2, words, ON_TABLE, TABLE) for row, at in places):
            return


def _name_edges(sheet: Sheet, view: TableView, body: range) -> None:
    """Each edge's name beside it, on the jig that it bears on or on the table; else just inside it."""
    right = view.lie.edge if view.side > 0 else view.lie.edge.other
    for edge in (view.lie.edge, view.lie.edge.other):
        beside = JIG if view.rig is not None and edge is view.lie.edge else TABLE
        rows = [row for row in _middle_out(body) if _ends_here(sheet.cells[row], to_right=edge is right)]
        for words, over in ((f"{edge} edge", beside), (f"{edge} edge", WOOD), (str(edge), beside)):
            if any(_at_edge(sheet, row, words, over, to_right=edge is right) for row in rows):
                break


def _ends_here(cells: bytearray, *, to_right: bool) -> bool:
    """Whether the board is in a row, and isn't broken off at that side of the picture."""
    return whole(WOOD) in cells and cells[-1 if to_right else 0] != BROKEN_WOOD


def _at_edge(sheet: Sheet, row: int, words: str, over: int, *, to_right: bool) -> bool:
    """Writes words a cell off the board's edge: on the board if `over` is wood, else beside it."""
    cells, wood = bytes(sheet.cells[row]), whole(WOOD)
    if over == WOOD:
        at = cells.rfind(wood) - len(words) if to_right else cells.find(wood) + 1
    elif to_right:
        at = cells.find(whole(over), cells.rfind(wood))
        at = len(cells) if at < 0 else at + 1
    else:
        at = cells.rfind(whole(over), 0, cells.find(wood)) - len(words)
    return sheet.write(row, at, words, STYLES[over], over)


def _name_saw(sheet: Sheet, frame: Frame) -> None:
    rows = _middle_out(range(frame.rows - 1))
    for words, material in ((" fence ", FENCE), (" jig ", JIG), (" stop ", STOP)):
        named = any(_in_longest(sheet, row, material, words) for row in rows)
        first = rows[0] - len(words) // 2 + 1
        if material == FENCE and not named and first >= 0:
            for row, letter in enumerate(words.strip(), first):
                _in_longest(sheet, row, FENCE, letter)


def _in_longest(sheet: Sheet, row: int, material: int, *choice: str) -> bool:
    """Writes the first of several texts that fits in the middle of a row's longest run of a material."""
    runs = list(re.finditer(re.escape(whole(material)) + b"+", sheet.cells[row]))
    if not runs:
        return False
    longest = max(runs, key=lambda run: len(run[0]))
    for words in choice:
        spare = len(longest[0]) - len(words)
        if spare >= 0 and sheet.write(row, longest.start() + spare // 2, words, STYLES[material], material):
            return True
    return False


def _middle_out(rows: range) -> list[int]:
    """Rows from the middle one outwards."""
    middle = rows[len(rows) // 2]
    return sorted(rows, key=lambda row: (abs(row - middle), row))
