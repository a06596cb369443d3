"""Lines of styled text, of which only those that change are painted anew: a key has to be quick in any window."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple

from rich.segment import Segment
from textual.cache import LRUCache
from textual.color import Color
from textual.content import Content
from textual.filter import LineFilter
from textual.geometry import Region
from textual.strip import Strip
from textual.style import Style
from textual.widget import Widget

TAB, MARGIN = 8, 1
MOST_KEPT = 600
"""So many painted lines are kept: from board to board the same ones come again."""


class _Look(NamedTuple):
    """What the painting of a line depends on, beside the line and its row."""

    theme: str
    style: Style
    ground: Color
    filters: tuple[LineFilter, ...]
    width: int


class Rows(Widget):
    """A line of text in each row, from the top, with a blank on either side.

    Its size must not depend on what it shows, for it is never laid out anew; it has neither padding nor border.

    Args:
        name: by which the stylesheet knows it.
        ellipsis: whether what is too long for its row ends with that sign; else it is just cut off.
    """

    def __init__(self, name: str, *, ellipsis: bool) -> None:
        super().__init__(id=name)
        self._ellipsis = ellipsis
        self._lines: tuple[Content, ...] = ()
        self._look: _Look | None = None
        self._painted = LRUCache[tuple[object, ...], Strip](MOST_KEPT)

    def put(self, lines: Sequence[Content]) -> None:
        """Shows `lines`, each without a line end, from the next paint on; lines that stay as they are cost nothing."""
        before, self._lines = self._lines, tuple(lines)
        rows = range(min(max(len(before), len(lines)), self.size.height))
        changed = []
        for same, run in groupby(rows, lambda row: _same(before[row : row + 1], self._lines[row : row + 1])):
            if not same:
                found = [*run]
                changed.append(Region(0, found[0], self.size.width, len(found)))
        if changed:
            self.refresh(*changed)

    def render(self) -> Content:
        """All lines, which is what selected text is taken from."""
        return Content("\n").join(self._lines)

    def render_lines(self, crop: Region) -> list[Strip]:
        """What is painted; the library itself would put every line together anew for each paint."""
        look = self._look_now()
        strips = [self._strip(look, row) for row in crop.line_range]
        if crop.column_span != (0, self.size.width):
            strips = [strip.crop(*crop.column_span) for strip in strips]
        return strips

    def render_line(self, y: int) -> Strip:
        """A row by itself, in which the library looks for the text under the mouse."""
        return self._strip(self._look_now(), y)

    def _look_now(self) -> _Look:
        filters, ground = tuple(self.get_line_filters()), self.background_colors[1]
        look = _Look(self.app.theme, self.visual_style, ground, filters, self.size.width)
        if look != self._look:
            self._look = look
            self._painted.clear()
        return look

    def _strip(self, look: _Look, row: int) -> Strip:
        if row >= len(self._lines):
            return _filtered(Strip.blank(look.width, Style(background=look.ground).rich_style), look)
        line = self._selected(self._lines[row], row)
        known = row, line.plain, *line.spans
        strip = self._painted.get(known)
        if strip is None:
            strip = self._painted[known] = _painted(line, row, look, ellipsis=self._ellipsis)
        return strip

    def _selected(self, line: Content, row: int) -> Content:
        """`line` with what the mouse has selected of it marked."""
        selection = self.text_selection
        span = None if selection is None else selection.get_span(row)
        if span is None:
            return line
        start, stop = span
        style = Style.from_styles(self.screen.get_component_styles("screen--selection"))
        return line.stylize(style, start, len(line) if stop == -1 else stop)


def _same(one: Sequence[Content], other: Sequence[Content]) -> bool:
    """Whether two rows, each with a line or none, show the same."""
    return len(one) == len(other) and all(line.is_same(like) for line, like in zip(one, other, strict=True))


def _painted(line: Content, row: int, look: _Look, *, ellipsis: bool) -> Strip:
    """A row as wide as the widget; each piece of text knows its place, by which the mouse selects it."""
    line = line.expand_tabs(TAB).truncate(max(0, look.width - 2 * MARGIN), ellipsis=ellipsis)
    blank, column = Style(background=look.ground), 0
    segments = [Segment(" " * MARGIN, blank.rich_style_with_offset(0, row))]
    for text, style in line.render(look.style, end=""):
        segments.append(Segment(text, (look.style + style).rich_style_with_offset(column, row)))
        column += len(text)
    segments.append(Segment(" " * (look.width - MARGIN - line.cell_length), blank.rich_style))
    return _filtered(Strip(segments, look.width), look)


def _filtered(strip: Strip, look: _Look) -> Strip:
    for line_filter in look.filters:
        strip = strip.apply_filter(line_filter, look.ground)
    return strip
