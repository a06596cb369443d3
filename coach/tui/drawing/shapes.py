"""The board as it lies on the saw's table, or flat on the bench, as outlines in mm: what the drawing shows, as data.

Outlines are seen from above, in the table's frame: x to the right, y away from the person, the blade's teeth at y = 0,
the blade at -kerf ≤ x ≤ 0 where the fence is at the right and at 0 ≤ x ≤ kerf where it is at the left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from coach.ground.terms import Edge, End, Face, Hand, Lie, Side
from coach.joint.layout import EndLayout
from coach.plan.geometry import kerf_span_mm, lie_for
from coach.plan.steps import Step, StepKind
from coach.plan.walking.walker import Walker
from coach.shop.tools import Fence, Jig

Point = tuple[float, float]
Outline = tuple[Point, ...]

BLADE_MM = 8.0
BODY_MM = 30.0
"""How thick a fence's body is drawn of which the shop doesn't say it."""
BEHIND_MM = 600.0
"""How far a fence is taken to reach past the blade: further than any picture does."""
STOP_MM, STOP_FOOT_MM = 5.0, 12.0
"""How thick a jig's stop is drawn along the feed, and how far it stands on the jig."""
STOP_REACH_MM = 6.0
"""How far a stop is drawn past the jig's tip, if the smallest mark leaves so much."""


class Kerf(NamedTuple):
    """A side's kerf in the board's own frame.

    Attributes:
        corners: as (from the top edge, from the end): at the end on the jig's side and beyond, then at the bottom
            beyond and on the jig's side.
    """

    tail: int
    faces: Edge
    corners: Outline


@dataclass(frozen=True, slots=True)
class TableView:
    """All that is drawn of a board: one end, leading away from the person.

    Attributes:
        slope: of the tails' sides, in radians.
        lie: the end that leads, and the edge at the jig; on the bench the edge at the right.
        made: the kerfs already cut at this end.
        cleared: whether the waste is out.
        now: the kerf to cut now; None on the bench.
        rig: the fence and the jig; None on the bench.
        fence_mm: where the fence stands (F); 0 on the bench.
    """

    joint: EndLayout
    width_mm: float
    length_mm: float
    slope: float
    kerf_mm: float
    lie: Lie
    face_up: Face
    made: tuple[Kerf, ...]
    cleared: bool
    now: Kerf | None
    rig: tuple[Fence, Jig] | None
    fence_mm: float

    @property
    def side(self) -> int:
        """+1 where the fence is at the right and on the bench, -1 where it is at the left."""
        return -1 if self.rig is not None and self.rig[0].side is Hand.LEFT else 1

    @property
    def slant(self) -> float:
        """How far the board's edge slants off the feed: towards the fence, going towards the person, if positive."""
        return 0.0 if self.rig is None else self.slope if self.rig[1].wide_leads else -self.slope


class Shown(NamedTuple):
    """What the drawing shows. Outlines are convex, and none that isn't there has points.

    Attributes:
        leads: the end that points away from the person.
        at_jig: the edge that bears on the jig; None on the bench.
        kerfs_made: with the tail and the edge that the side faces.
        waste: what is waste, or will be; gone: where waste was that is out.
        baseline: from the edge at the jig to the other.
    """

    leads: End
    at_jig: Edge | None
    face_up: Face
    board: Outline
    jig: Outline
    stop: Outline
    fence: Outline
    blade: Outline
    kerfs_made: tuple[tuple[int, Edge, Outline], ...]
    kerf_now: Outline
    waste: tuple[Outline, ...]
    gone: tuple[Outline, ...]
    baseline: Outline


def rig_of(walker: Walker, setting: int) -> tuple[Fence, Jig]:
    """The fence and the jig with which a setting (an index) cuts."""
    shop = walker.job_at(setting).shop
    return shop.fence, shop.jig


def view_of(walker: Walker, step: Step) -> TableView:
    """The board of a cut, on the table with its leading end at the blade: the moment before the cut."""
    assert step.side is not None and step.edge is not None and step.face_up is not None and step.setting is not None
    side, rig = step.side, rig_of(walker, step.setting)
    part, joint = walker.job.pattern_of(side.board).part, walker.job.pattern_of(side.board).ends[side.end]
    return TableView(
        joint,
        part.width_mm,
        part.length_mm,
        rig[1].slope,
        walker.job.shop.saw.kerf_mm,
        Lie(side.end, step.edge),
        step.face_up,
        _made(walker, side.board, side.end),
        cleared=False,
        now=_kerf(walker, side),
        rig=rig,
        fence_mm=walker.cuts_at_mm(step.setting),
    )


def end_view_of(walker: Walker, board: int, end: End) -> TableView:
    """An end of a board that lies flat on the bench, its outside face up and the end away from the person."""
    part, joint = walker.job.pattern_of(board).part, walker.job.pattern_of(board).ends[end]
    return TableView(
        joint,
        part.width_mm,
        part.length_mm,
        walker.job.shop.jig.slope,
        walker.job.shop.saw.kerf_mm,
        Lie(end, Edge.TOP if end is End.A else Edge.BOTTOM),
        Face.OUTSIDE,
        _made(walker, board, end),
        cleared=(StepKind.CLEAR, board, end) in walker.benched,
        now=None,
        rig=None,
        fence_mm=0.0,
    )


def _made(walker: Walker, board: int, end: End) -> tuple[Kerf, ...]:
    joint = walker.job.pattern_of(board).ends[end]
    sides = [Side(board, end, tail, faces) for tail in range(1, joint.tails + 1) for faces in Edge]
    return tuple(_kerf(walker, side) for side in sides if side in walker.done)


def _kerf(walker: Walker, side: Side) -> Kerf:
    """Where a side's setting cuts. The bottom is square to the feed, so one corner runs deeper: to the baseline."""
    pattern = walker.job.pattern_of(side.board)
    setting = walker.settings.serving(walker.job.board(side.board))[side.end, side.tail, side.faces]
    _, jig = rig_of(walker, setting)
    kerf_mm, length_mm = walker.job.shop.saw.kerf_mm, pattern.ends[side.end].tail_length_mm
    shallow_mm = length_mm - kerf_mm * math.sin(jig.slope)
    depths = (length_mm, shallow_mm) if jig.wide_leads else (shallow_mm, length_mm)
    fence_mm = walker.cuts_at_mm(setting)
    near_bottom = kerf_span_mm(jig, kerf_mm, fence_mm, depths[0])[0]
    far_bottom = kerf_span_mm(jig, kerf_mm, fence_mm, depths[1])[1]
    near, far = kerf_span_mm(jig, kerf_mm, fence_mm, 0.0)
    from_jig = ((near, 0.0), (far, 0.0), (far_bottom, depths[1]), (near_bottom, depths[0]))
    if lie_for(jig, side.end, side.faces).edge is Edge.TOP:
        return Kerf(side.tail, side.faces, from_jig)
    return Kerf(side.tail, side.faces, tuple((pattern.part.width_mm - at, along) for at, along in from_jig))


class Placing(NamedTuple):
    """How a board's own frame lies in the table's.

    Attributes:
        corner: where the edge at the jig and the leading end meet.
    """

    view: TableView
    corner: Point

    def at(self, from_top_mm: float, along_mm: float) -> Point:
        """A point of the board so far from its top edge and from its leading end."""
        view = self.view
        from_jig = from_top_mm if view.lie.edge is Edge.TOP else view.width_mm - from_top_mm
        sine, cosine = math.sin(view.slant), math.cos(view.slant)
        return (
            self.corner[0] + view.side * (along_mm * sine - from_jig * cosine),
            self.corner[1] - from_jig * sine - along_mm * cosine,
        )

    def all(self, points: Outline) -> Outline:
        """Several points."""
        return tuple(self.at(*point) for point in points)


def placing(view: TableView) -> Placing:
    """The board with the first point of its leading end that the blade will meet at the teeth; on the bench at 0, 0."""
    if view.rig is None:
        return Placing(view, (0.0, 0.0))
    near_mm = view.fence_mm - view.rig[1].leading_width_mm
    first_mm = near_mm if view.rig[1].wide_leads else near_mm + view.kerf_mm
    return Placing(view, (view.side * near_mm, first_mm * math.tan(view.slant)))


@lru_cache(maxsize=16)
def shown(view: TableView) -> Shown:
    """What the drawing of `view` shows."""
    board, width, length = placing(view), view.width_mm, view.length_mm
    root = view.joint.tail_length_mm
    sockets = tuple(board.all(socket) for socket in _sockets(view))
    jig, stop, fence, blade = _saw(view, board.corner)
    from_jig = (0.0, width) if view.lie.edge is Edge.TOP else (width, 0.0)
    return Shown(
        view.lie.end,
        None if view.rig is None else view.lie.edge,
        view.face_up,
        board.all(((0.0, 0.0), (width, 0.0), (width, length), (0.0, length))),
        jig,
        stop,
        fence,
        blade,
        tuple((kerf.tail, kerf.faces, board.all(kerf.corners)) for kerf in view.made if not view.cleared),
        () if view.now is None else board.all(view.now.corners),
        waste=() if view.cleared else sockets,
        gone=sockets if view.cleared else (),
        baseline=board.all(tuple((at, root) for at in from_jig)),
    )


def _sockets(view: TableView) -> list[Outline]:
    """What is sawn and chopped out between the tails, in the board's own frame."""
    root, width = view.joint.tail_length_mm, view.width_mm
    cuts = [
        [0.0, *(edge for span in view.joint.tail_spans_mm(width, at, view.slope) for edge in span), width]
        for at in (0.0, root)
    ]
    return [
        ((cuts[0][n], 0.0), (cuts[0][n + 1], 0.0), (cuts[1][n + 1], root), (cuts[1][n], root))
        for n in range(0, len(cuts[0]), 2)
    ]


def _saw(view: TableView, corner: Point) -> tuple[Outline, Outline, Outline, Outline]:
    """Jig, stop, fence and blade."""
    if view.rig is None:
        return (), (), (), ()
    fence, jig = view.rig
    side, (x, y) = view.side, corner
    sine, cosine = math.sin(view.slant), math.cos(view.slant)
    run = jig.length_mm if sine < 0 else min(jig.length_mm, jig.leading_width_mm / sine)
    face = side * view.fence_mm
    tip = (x + side * run * sine, y - run * cosine)
    reach, foot = _stop_reach_mm(view, jig), min(STOP_FOOT_MM, jig.leading_width_mm)
    past = (x - side * cosine * reach, y - sine * reach)
    back = (face, -fence.front_mm)
    behind = face + side * (fence.body_mm or BODY_MM)
    return (
        ((face, y), (x, y), tip, (face, tip[1])),
        (corner, past, (past[0], past[1] + STOP_MM), (x + side * foot, y + STOP_MM), (x + side * foot, y)),
        (back, (face, BEHIND_MM), (behind, BEHIND_MM), (behind, back[1])),
        ((0.0, 0.0), (-side * view.kerf_mm, 0.0), (-side * view.kerf_mm, BLADE_MM), (0.0, BLADE_MM)),
    )


def _stop_reach_mm(view: TableView, jig: Jig) -> float:
    """A stop stands clear of the smallest cut: F less the jig's width is what a mark leaves it."""
    edge = view.lie.edge
    joint, width = view.joint, view.width_mm
    if jig.wide_leads:
        marks = joint.top_marks_mm if edge is Edge.TOP else joint.bottom_marks_mm
        least = min(marks) * math.cos(jig.slope) - view.kerf_mm
    else:
        marks = joint.bottom_marks_mm if edge is Edge.TOP else joint.top_marks_mm
        least = (width - max(marks)) * math.cos(jig.slope)
    here = view.fence_mm - jig.leading_width_mm  # the smallest cut itself, rounded to the scale, may leave it less
    return max(0.0, min(STOP_REACH_MM, 0.7 * min(least, here)))
