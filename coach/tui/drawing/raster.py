"""Outlines as character cells: two pixels a cell, one above the other, each of one material; text laid over them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from textual.content import Content, Span

Point = tuple[float, float]

TABLE, FENCE, JIG, STOP, WOOD, WASTE, MADE, NOW, BLADE = range(9)
LINES = (MADE, NOW, BLADE)
"""Materials as narrow as a pixel: a cell of which half is one of them shows it, whatever the other half is."""
GLYPHS = {TABLE: " ", FENCE: "▓", JIG: "░", STOP: "▒", WOOD: "█", WASTE: "╱", MADE: "│", NOW: "▐", BLADE: "║"}
ASCII = {TABLE: " ", FENCE: "=", JIG: ":", STOP: "+", WOOD: ".", WASTE: "/", MADE: "|", NOW: "#", BLADE: "!"}
UPPER, LOWER = {MADE: "╵", NOW: "▝", BLADE: "║"}, {MADE: "╷", NOW: "▗", BLADE: "║"}
FILLED, MIRRORED = {"▐": "█", "▝": "▀", "▗": "▄"}, {"▐": "▌", "▝": "▘", "▗": "▖"}
"""The kerf to cut leaves half of a column dark beside the tail, or it would look like a part of it."""
GROUNDS = {JIG: " on $panel", FENCE: " on $panel", STOP: " on $panel", WASTE: " on $panel", WOOD: " on $wood"}
INKS = {FENCE: "$quiet", JIG: "$quiet", STOP: "$quiet", WOOD: "$wood", WASTE: "$wood"}
INKS |= {MADE: "bold $foreground", NOW: "bold $cut", BLADE: "bold $foreground"}

TEXT = 0xF0
"""Codes from here on are cells with words or other signs in them, each in a style of its own."""
ON_TABLE, ON_WOOD, ON_SAW, POINTER, BROKEN, BROKEN_WOOD, BASELINE = range(TEXT, TEXT + 7)
TEXT_STYLES = {
    ON_TABLE: "$foreground",
    ON_WOOD: "bold $background on $wood",
    ON_SAW: "$foreground on $panel",
    POINTER: "bold $cut",
    BROKEN: "$quiet",
    BROKEN_WOOD: "$wood",
    BASELINE: "bold $background on $wood",
}
_RUNS = re.compile(rb"(.)\1*", re.DOTALL)


class Pane(NamedTuple):
    """Columns of the picture that are to scale: the first, how many, and what lies at their left side in mm."""

    first: int
    columns: int
    left_mm: float


class Frame(NamedTuple):
    """How outlines are brought to cells. A fence at the left is drawn as its mirror image and then mirrored.

    Attributes:
        scale_mm: what a pixel stands for, across and down.
        top_mm: what lies at the picture's upper side.
        panes: from left to right, broken off from each other where there is a gap.
    """

    columns: int
    rows: int
    scale_mm: float
    top_mm: float
    panes: tuple[Pane, ...]
    mirrored: bool

    def at_mm(self, column: int, half_row: int) -> Point | None:
        """The middle of a pixel on the table; None in a gap."""
        if self.mirrored:
            column = self.columns - 1 - column
        for pane in self.panes:
            if 0 <= column - pane.first < pane.columns:
                x = pane.left_mm + (column - pane.first + 0.5) * self.scale_mm
                return (-x if self.mirrored else x), self.top_mm - (half_row + 0.5) * self.scale_mm
        return None

    def column_of(self, x_mm: float) -> int | None:
        """The column in which something at x on the table is drawn; None if it isn't shown."""
        x = -x_mm if self.mirrored else x_mm
        for pane in self.panes:
            column = math.floor((x - pane.left_mm) / self.scale_mm)
            if 0 <= column < pane.columns:
                found = pane.first + column
                return self.columns - 1 - found if self.mirrored else found
        return None

    def row_of(self, y_mm: float) -> int:
        """The row in which something at y on the table is drawn; it may be out of the picture."""
        return math.floor((self.top_mm - y_mm) / self.scale_mm / 2)


class Canvas:
    """Pixels that are painted, material over material, and then turned into cells."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self._pixels = [bytearray(frame.columns) for _ in range(2 * frame.rows)]

    def fill(self, outline: Sequence[Point], material: int) -> None:
        """Paints the pixels whose middle is within a convex outline."""
        per_mm = 1 / self.frame.scale_mm
        signs = bytes((material,)) * self.frame.columns
        spans = _spans(outline, self.frame)
        for pane in self.frame.panes:
            first, columns, off = pane.first, pane.columns, 0.5 - pane.left_mm * per_mm
            for row, (low, high) in spans.items():
                start, stop = max(0, math.ceil(low * per_mm + off - 1)), min(columns, math.floor(high * per_mm + off))
                if start < stop:
                    self._pixels[row][first + start : first + stop] = signs[: stop - start]

    def stroke(self, outline: Sequence[Point], width_mm: float, material: int) -> None:
        """Paints a kerf or the blade, given as two corners of one end and two of the other; at least a pixel wide."""
        frame, scale = self.frame, self.frame.scale_mm
        sign = -1 if frame.mirrored else 1
        (x, y), (to_x, to_y) = _middle(*outline[:2]), _middle(*outline[2:])
        if y < to_y:
            x, y, to_x, to_y = to_x, to_y, x, y
        width = max(1, round(width_mm / scale))
        first = round((frame.top_mm - y) / scale)
        last = max(first, math.ceil((frame.top_mm - to_y) / scale - 0.5) - 1)
        for row in range(max(0, first), min(2 * frame.rows - 1, last) + 1):
            at = sign * (x + (to_x - x) * (y - frame.top_mm + (row + 0.5) * scale) / (y - to_y))
            for pane in frame.panes:
                start = math.floor((at - pane.left_mm) / scale - width / 2 + 0.5)
                if start >= 0 and start + width <= pane.columns:
                    self._pixels[row][pane.first + start : pane.first + start + width] = bytes((material,)) * width

    def cells(self) -> list[bytearray]:
        """A code for each cell, row by row: the upper pixel's material in its upper half, the lower one's below."""
        columns, pixels = self.frame.columns, self._pixels
        rows = []
        for upper, lower in zip(pixels[::2], pixels[1::2], strict=True):
            code = int.from_bytes(upper, "big") << 4 | int.from_bytes(lower, "big")
            row = bytearray(code.to_bytes(columns, "big"))
            if self.frame.mirrored:
                row.reverse()
            rows.append(row)
        return rows


class Sheet:
    """Cells with text laid over them."""

    def __init__(self, cells: list[bytearray]) -> None:
        self.cells = cells
        self._texts: list[tuple[int, int, str]] = []

    def write(self, row: int, column: int, text: str, style: int, over: int | None = None) -> bool:
        """Writes text if there is room for it, and if all under it is of one material where `over` says so."""
        cells = self.cells[row] if 0 <= row < len(self.cells) else bytearray()
        stop = column + len(text)
        if column < 0 or stop > len(cells) or (over is not None and cells[column:stop] != whole(over) * len(text)):
            return False
        cells[column:stop] = bytes((style,)) * len(text)
        self._texts.append((row, column, text))
        return True

    def lines(self, *, plain: bool, tail_at_left: bool) -> list[Content]:
        """The lines, each as wide as its cells; the tail that is cut now lies left or right of the kerf."""
        words: dict[int, list[tuple[int, str]]] = {}
        for row, column, text in self._texts:
            words.setdefault(row, []).append((column, text))
        return [
            _line(row, words.get(number, []), plain=plain, tail_at_left=tail_at_left)
            for number, row in enumerate(self.cells)
        ]


def whole(material: int) -> bytes:
    """The code of a cell that is all of one material."""
    return bytes((material << 4 | material,))


def _line(row: bytearray, words: list[tuple[int, str]], *, plain: bool, tail_at_left: bool) -> Content:
    text, spans = [], []
    for run in _RUNS.finditer(row):
        glyph, style = _cell(run[1][0], plain=plain)
        length = len(run[0])
        if glyph in FILLED:
            rest = FILLED[glyph] * (length - 1)
            text.append(glyph + rest if tail_at_left else rest + MIRRORED[glyph])
        else:
            text.append(glyph * length)
        if style:
            spans.append(Span(run.start(), run.end(), style))
    line = "".join(text)
    for column, word in words:
        line = line[:column] + word + line[column + len(word) :]
    return Content(line, spans, strip_control_codes=False)


@lru_cache(maxsize=512)
def _cell(code: int, *, plain: bool) -> tuple[str, str]:
    """Sign and style of a cell."""
    if code == BASELINE:
        return "-" if plain else "╌", TEXT_STYLES[code]
    if code >= TEXT:
        return " ", TEXT_STYLES[code]
    upper, lower = divmod(code, 16)
    glyphs = ASCII if plain else GLYPHS
    if upper == lower or plain:
        both = max(upper, lower)
        return glyphs[both], _style(both)
    if upper in LINES or lower in LINES:
        if lower in LINES and (upper not in LINES or lower == NOW):
            return LOWER[lower], _style(lower)
        return UPPER[upper], _style(upper)
    if lower == WOOD:
        return "▄", f"{INKS[WOOD]}{GROUNDS.get(upper, '')}"
    if upper == WOOD:
        return "▀", f"{INKS[WOOD]}{GROUNDS.get(lower, '')}"
    both = max(upper, lower)
    return glyphs[both], _style(both)


def _style(material: int) -> str:
    return INKS.get(material, "") + GROUNDS.get(material, "")


def _middle(one: Point, other: Point) -> Point:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2


def _spans(outline: Sequence[Point], frame: Frame) -> dict[int, tuple[float, float]]:
    """For each row of pixels that a convex outline crosses, from where to where it does, in the frame's direction."""
    sign, scale, top, rows = -1 if frame.mirrored else 1, frame.scale_mm, frame.top_mm, 2 * frame.rows
    found: dict[int, tuple[float, float]] = {}
    for (x, y), (to_x, to_y) in zip(outline, (*outline[1:], *outline[:1]), strict=True):
        if y < to_y:
            x, y, to_x, to_y = to_x, to_y, x, y
        first = max(0, math.ceil((top - y) / scale - 0.5))
        last = min(rows, math.ceil((top - to_y) / scale - 0.5))
        if first >= last:
            continue
        step = sign * (to_x - x) * scale / (y - to_y)
        at = sign * x + step * (first + 0.5 - (top - y) / scale)
        for row in range(first, last):
            if row in found:
                low, high = found[row]
                found[row] = (at, high) if at < low else (low, max(high, at))
            else:
                found[row] = (at, at)
            at += step
    return found
