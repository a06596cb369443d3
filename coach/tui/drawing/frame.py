"""How much of the table a picture shows, and at what scale: the leading end in whole where it can be told apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from coach.ground.terms import Hand
from coach.tui.drawing.raster import Frame, Pane, Point
from coach.tui.drawing.shapes import BLADE_MM, Outline, Shown, TableView, shown

GAP = 2
"""Columns of a break between two panes."""
JIG_AT_FENCE = 2
"""Columns of the jig that are shown along the fence where the rest of it is broken off."""
FINEST_KERF = 2
"""Pixels that a kerf takes at most."""
LEAST_ROOT, LEAST_TAIL = 2, 3
"""Pixels that the tails' length and the narrowest tail take at least, or part of the leading end is left out."""
FINE_ROOT, FINE_TAIL = 6, 8
"""Pixels that they should take, rather than that there is room for words beside the board."""
LEAST_BLADE = 2
"""Pixels of the blade that are drawn at least."""
MOST_MARGIN = 16
"""Columns that are added to a margin at most."""
UNBROKEN = 1.15
"""How much coarser the scale may be for the jig to be shown in whole."""


class Room(NamedTuple):
    """Columns beside the board: of the table, of the jig, of the fence."""

    margin: int
    jig: int
    fence: int


ROOMS = (Room(13, 13, 9), Room(2, 8, 5), Room(1, 5, 3))
TIGHT = ROOMS[-1]


def frame_of(view: TableView, columns: int, rows: int) -> Frame:
    """The picture's frame. The board's leading end is shown in whole unless it would be too small to tell tails and
    sockets apart; then the cut to make and its neighbours are, and the edge at the jig."""
    picture = _Picture(view, _as_at_right(view), columns, rows)
    upright_mm = picture.upright_mm(-math.inf)
    fine = max(upright_mm, _scale_mm(view, FINE_ROOT, FINE_TAIL))
    room = next((room for room in ROOMS if picture.scale_mm(room) <= fine), TIGHT)
    scale = picture.scale_mm(room)
    coarsest = max(upright_mm, _scale_mm(view, LEAST_ROOT, LEAST_TAIL))
    if view.rig is None or scale <= coarsest:
        return picture.whole(room, max(scale, upright_mm))
    return picture.window(_scale_mm(view, LEAST_ROOT, LEAST_TAIL))


def blade_mm(frame: Frame) -> float:
    """How long the blade is drawn along the feed, so that it can be seen."""
    return max(BLADE_MM, LEAST_BLADE * frame.scale_mm)


def _scale_mm(view: TableView, root: int, tail: int) -> float:
    """The coarsest scale at which the tails' length and the narrowest tail take so many pixels."""
    return min(view.joint.tail_length_mm / root, min(view.joint.tail_widths_mm(view.width_mm)) / tail)


class _Picture(NamedTuple):
    """What is to be shown, with the fence at the right, and the room for it."""

    view: TableView
    seen: Shown
    columns: int
    rows: int

    def scale_mm(self, room: Room) -> float:
        """The finest scale at which the leading end, with as much beside it, is as wide as the picture."""
        return max(self._across_mm / max(1, self.columns - self._beside(room)), self.view.kerf_mm / FINEST_KERF)

    def upright_mm(self, left_mm: float) -> float:
        """The finest scale at which the leading end right of `left_mm`, down to the baseline, is as high as it may be:
        there is a row of words above, and below some wood and the break."""
        wood = 1 if self.rows < 10 else 2 if self.rows < 16 else 4
        high, low = self._from_to(left_mm)
        return (high - low) / (2 * (self.rows - 2 - wood))

    def whole(self, room: Room, scale: float) -> Frame:
        """The leading end in whole; a jig that is wide for the picture is broken off before the fence."""
        columns, fence = self.columns, JIG_AT_FENCE + room.fence
        if self.view.rig is None:
            return self._frame(scale, [Pane(0, columns, -(self._across_mm + columns * scale) / 2)], -math.inf)
        to_fence_mm = (self.view.fence_mm - self._outer_mm(scale)) / max(1, columns - room.margin - room.fence)
        if to_fence_mm <= scale * UNBROKEN:
            scale = max(scale, to_fence_mm)
            outer = self._outer_mm(scale)
            spare = columns - room.margin - room.fence - math.ceil((self.view.fence_mm - outer) / scale)
            margin = room.margin + min(MOST_MARGIN, max(0, spare) // 2)
            return self._frame(scale, [Pane(0, columns, outer - margin * scale)], -math.inf)
        spare = columns - self._beside(room) - math.ceil(self._across_mm / scale)
        margin = room.margin + min(MOST_MARGIN, max(0, spare) // 2)
        board = Pane(0, columns - fence - GAP, self._outer_mm(scale) - margin * scale)
        return self._frame(scale, [board, self._fence(fence, scale)], -math.inf)

    def window(self, scale: float) -> Frame:
        """Part of the leading end: from the edge at the jig to the cut to make and beyond it, or where that is far
        away the cut and its neighbours, and the edge broken off from them."""
        while (least := self.upright_mm(self._window(scale)[0].left_mm)) > scale:
            scale = least * 1.01
        panes = self._window(scale)
        return self._frame(scale, panes, panes[0].left_mm)

    def _window(self, scale: float) -> list[Pane]:
        assert self.view.rig is not None
        fence = JIG_AT_FENCE + TIGHT.fence
        columns, edge = self.columns - GAP - fence, TIGHT.jig + self._drift
        corner = self.view.fence_mm - self.view.rig[1].leading_width_mm
        if corner / scale + edge <= columns * 2 / 3:
            panes = [Pane(0, columns, corner - (columns - edge) * scale)]
        else:
            cut, seen = columns - GAP - edge - LEAST_TAIL, LEAST_TAIL + (0 if self.view.slant > 0 else self._drift)
            outer = self._outer_mm(scale) - TIGHT.margin * scale
            panes = [
                Pane(0, cut, max(outer, -cut * scale / 2)),
                Pane(cut + GAP, edge + LEAST_TAIL, corner - seen * scale),
            ]
        last = panes[-1]
        if last.left_mm + (last.columns + GAP) * scale >= self.view.fence_mm - JIG_AT_FENCE * scale:
            return [*panes[:-1], last._replace(columns=self.columns - last.first)]
        return [*panes, self._fence(fence, scale)]

    def _frame(self, scale: float, panes: Sequence[Pane], left_mm: float) -> Frame:
        top = max(self._from_to(left_mm)[0], 2 * scale) + 2 * scale
        return Frame(self.columns, self.rows, scale, top, tuple(panes), mirrored=self.view.side < 0)

    def _fence(self, columns: int, scale: float) -> Pane:
        return Pane(self.columns - columns, columns, self.view.fence_mm - JIG_AT_FENCE * scale)

    @property
    def _across_mm(self) -> float:
        return self.view.width_mm * math.cos(self.view.slant)

    @property
    def _drift(self) -> int:
        """By how many columns the edge at the jig is off its corner at the picture's lower side, if there is room."""
        return min(self.columns // 5, math.ceil(2 * self.rows * abs(math.tan(self.view.slant))))

    def _outer_mm(self, scale: float) -> float:
        """Where the board is furthest from the fence, as far down as it is shown."""
        leading = min(x for x, _ in self.seen.board[:2])
        return leading if self.view.slant >= 0 else leading - self._drift * scale

    def _beside(self, room: Room) -> int:
        if self.view.rig is None:
            return 2 * room.margin
        return room.margin + room.jig + self._drift + GAP + JIG_AT_FENCE + room.fence

    def _from_to(self, left_mm: float) -> tuple[float, float]:
        """From where to where the leading end and the stop reach down to the baseline, right of `left_mm`."""
        ends = [*_right_of(left_mm, self.seen.board[:2]), *self.seen.stop]
        return max(y for _, y in ends), min(y for _, y in _right_of(left_mm, self.seen.baseline))


def _right_of(left_mm: float, line: Outline) -> list[Point]:
    """The ends of what is seen of a line."""
    (x, y), (to_x, to_y) = sorted(line)
    if x < left_mm < to_x:
        x, y = left_mm, y + (to_y - y) * (left_mm - x) / (to_x - x)
    return [(x, y), (to_x, to_y)]


def _as_at_right(view: TableView) -> Shown:
    """What is shown, with the fence at the right."""
    if view.rig is None:
        return shown(view)
    fence, jig = view.rig
    return shown(replace(view, rig=(replace(fence, side=Hand.RIGHT), jig)))
