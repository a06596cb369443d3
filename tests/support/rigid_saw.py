"""A second opinion on a plan: boards as rigid bodies, turned by real rotations, sawn with Shapely."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiPoint, Point, Polygon, box
from support.rigid_board import (
    EXACT_MM,
    EXACT_MM2,
    HALF_TURNS,
    LAID,
    Bench,
    Board,
    EndDesign,
    Jig,
    Matrix,
    SideKey,
    Vector,
    about_vertical,
    apply,
    lying,
    tail_outline,
    times,
    transposed,
)


class SpoiledWoodError(AssertionError):
    """The plan, carried out, doesn't leave the wood that was designed."""


@dataclass(frozen=True)
class Kerf:
    """What one cut took, in the board's own frame, and what it was meant to leave."""

    end: str
    tail: int
    faces: str
    outline: Polygon
    shift_mm: float


@dataclass
class Body:
    """A board on its way through the batch."""

    board: Board
    turned: Matrix | None = None
    kerfs: list[Kerf] = field(default_factory=list)


def replay(
    boards: Sequence[Board],
    kerf_mm: float,
    jigs: Mapping[str, Jig],
    settings: Sequence[Mapping[str, Any]],
    steps: Sequence[Mapping[str, Any]],
) -> dict[SideKey, float]:
    """Carry out `steps` and return how far each side was shifted into its tail, along the end.

    Raises:
        SpoiledWoodError: if a step can't be done as it says, or the wood left isn't the wood designed.
    """
    bodies = {board.label: Body(board) for board in boards}
    _require(len(bodies) == len(boards), "two boards with one label")
    known = {setting["setting"]: setting for setting in settings}
    _require(len(known) == len(settings), "two settings with one number")
    shifts: dict[SideKey, float] = {}
    standing = None
    for step in steps:
        if step["kind"] == "set-fence":
            standing = step["setting"]
        elif step["kind"] == "cut":
            where = f"step {step['step']}"
            _require(standing is not None and step["setting"] == standing, f"{where}: the fence isn't there")
            _require(standing in known, f"{where}: unknown setting {standing}")
            setting = known[standing]
            bench = Bench({"right": 1, "left": -1}[setting["fence_side"]], jigs[setting["jig"]], setting["fence_mm"])
            body = bodies.get(step["board"])
            if body is None:
                raise SpoiledWoodError(f"{where}: unknown board {step['board']}")
            key = (step["board"], step["end"], step["tail"], step["faces"])
            _require(key not in shifts, f"{where}: {key} is cut twice")
            _put_down(body, step, bench, where)
            kerf = _saw(body, step, bench, kerf_mm, where)
            body.kerfs.append(kerf)
            shifts[key] = kerf.shift_mm
    wanted = {
        (board.label, end, tail, faces)
        for board in boards
        for end, design in board.ends.items()
        for tail in range(1, len(design.top_marks_mm) + 1)
        for faces in ("top", "bottom")
    }
    missing = wanted - shifts.keys()
    _require(not missing, f"never cut: {sorted(missing)}")
    slopes = {jig.slope for jig in (jigs[setting["jig"]] for setting in settings)}
    _require(len(slopes) <= 1, "settings of different slopes")
    for body in bodies.values():
        for slope in slopes:
            _inspect(body, shifts, kerf_mm, slope)
    return shifts


def _put_down(body: Body, step: Mapping[str, Any], bench: Bench, where: str) -> None:
    said = (step["end"], step["edge"], step["face_up"])
    if body.turned is None:
        _require(step["turn"] is None, f"{where}: a board that was never put down is turned")
        fitting = [turned for turned in HALF_TURNS.values() if lying(turned, bench) == said]
        _require(len(fitting) == 1, f"{where}: no board can lie with {said}")
        body.turned = fitting[0]
        return
    _require(step["turn"] in HALF_TURNS, f"{where}: unknown turn {step['turn']}")
    body.turned = times(body.turned, HALF_TURNS[step["turn"]])
    found = lying(body.turned, bench)
    _require(found == said, f"{where}: the board lies {found}, the step says {said}")


def _saw(body: Body, step: Mapping[str, Any], bench: Bench, kerf_mm: float, where: str) -> Kerf:
    board = body.board
    end, tail, faces = step["end"], step["tail"], step["faces"]
    design = board.ends.get(end)
    if design is None or not 1 <= tail <= len(design.top_marks_mm) or faces not in ("top", "bottom"):
        raise SpoiledWoodError(f"{where}: {board.label} has no side {end} {tail} {faces}")
    _require(
        abs(step["mark_mm"] - design.mark_mm(tail, faces)) < EXACT_MM,
        f"{where}: the mark is {design.mark_mm(tail, faces)}, the step says {step['mark_mm']}",
    )
    rotation, offset = _place(body, bench, where)
    back = transposed(rotation)
    # The kerf's bottom is square to the travel, from x = 0 to k away from the fence. How deep its two corners
    # lie in the board says how far the board may still go until the first of them touches the baseline.
    left, right = sorted((0.0, -bench.side * kerf_mm))
    depths = [_depth(board, end, apply(back, (x - offset[0], 0.0 - offset[1], 0.0 - offset[2]))) for x in (left, right)]
    ahead = apply(back, (0.0, -1.0, 0.0))[0] * (1 if end == "A" else -1)
    front = -(design.tail_length_mm - max(depths)) / ahead
    behind = board.width_mm + board.length_mm
    slot = Polygon([(left, front, 0.0), (right, front, 0.0), (right, behind, 0.0), (left, behind, 0.0)])
    jig_sawn = shapely.force_2d(slot).intersection(bench.jig_outline()).area
    _require(jig_sawn < EXACT_MM2, f"{where}: the blade saws {jig_sawn:.3f} mm² of the jig")
    outline = shapely.force_2d(_moved(slot, back, apply(back, (-offset[0], -offset[1], -offset[2]))))
    shift = _shift(board, design, end, tail, faces, outline, where)
    _require(
        abs(shift) <= board.shift_mm + EXACT_MM,
        f"{where}: {board.label} {end} {tail} {faces} is off by {shift:.6f} mm, {board.shift_mm:.6f} allowed",
    )
    kerf = Kerf(end, tail, faces, outline, shift)
    _require_whole_side(board, design, kerf, kerf_mm, bench.jig.slope, where)
    return kerf


def _place(body: Body, bench: Bench, where: str) -> tuple[Matrix, Vector]:
    """The rotation and the offset that lay the board flat on the table, on the jig and against its stop."""
    board = body.board
    if body.turned is None:
        raise SpoiledWoodError(f"{where}: the board isn't on the table")
    end, edge, _ = lying(body.turned, bench)
    rotation = times(about_vertical(bench.slant), times(LAID, body.turned))
    corners = [
        (x, y, z) for x in (0.0, board.length_mm) for y in (0.0, board.width_mm) for z in (0.0, board.thickness_mm)
    ]
    lowest = min(apply(rotation, corner)[2] for corner in corners)
    tip = apply(
        rotation,
        (0.0 if end == "A" else board.length_mm, board.width_mm if edge == "top" else 0.0, 0.0),
    )
    offset = (bench.corner[0] - tip[0], bench.corner[1] - tip[1], -lowest)
    placed = MultiPoint(
        [(p[0] + offset[0], p[1] + offset[1]) for p in (apply(rotation, c) for c in corners)]
    ).convex_hull
    overlap = placed.intersection(bench.jig_outline()).area
    _require(overlap < EXACT_MM2, f"{where}: the board overlaps the jig by {overlap:.3f} mm²")
    x, y = bench.corner
    along_jig = (
        x + bench.side * bench.taper * math.sin(bench.jig.slope) * 10,
        y - math.cos(bench.jig.slope) * 10,
    )
    along_stop = (x - bench.side * math.cos(bench.jig.slope), y - bench.taper * math.sin(bench.jig.slope))
    for point in (along_jig, along_stop):
        gap = placed.exterior.distance(Point(point)) if isinstance(placed, Polygon) else math.inf
        _require(gap < EXACT_MM, f"{where}: the board stands {gap:.3f} mm off the jig or its stop")
    return rotation, offset


def _inspect(body: Body, shifts: Mapping[SideKey, float], kerf_mm: float, slope: float) -> None:
    board = body.board
    reach = {end: design.tail_length_mm for end, design in board.ends.items()}
    shoulder = box(reach.get("A", 0.0), 0.0, board.length_mm - reach.get("B", 0.0), board.width_mm)
    for kerf in body.kerfs:
        nick = kerf.outline.intersection(shoulder)
        if not nick.is_empty and nick.area > EXACT_MM2:
            low, _, high, _ = nick.bounds
            deep = high - low
            _require(
                deep <= kerf_mm * math.sin(slope) + EXACT_MM,
                f"{board.label}: shoulder nicked {deep:.3f} mm deep",
            )
    for end, design in board.ends.items():
        for tail in range(1, len(design.top_marks_mm) + 1):
            designed = tail_outline(
                board,
                end,
                tail,
                slope,
                top_shift_mm=shifts[(board.label, end, tail, "top")],
                bottom_shift_mm=shifts[(board.label, end, tail, "bottom")],
            )
            _require(designed.is_valid, f"{board.label} {end} {tail}: nothing is left of the tail")
            lost = sum(designed.intersection(kerf.outline).area for kerf in body.kerfs)
            _require(lost <= EXACT_MM2, f"{board.label} {end} tail {tail}: {lost:.6f} mm² sawn off")


def _shift(board: Board, design: EndDesign, end: str, tail: int, faces: str, outline: Polygon, where: str) -> float:
    """How far the kerf reaches past the mark into the tail, along the end."""
    x_end = 0.0 if end == "A" else board.length_mm
    far = board.length_mm + 10 * board.width_mm
    opening = outline.intersection(LineString([(x_end, -far), (x_end, far)]))
    _require(not opening.is_empty, f"{where}: the kerf doesn't open at end {end}")
    _, low, _, high = opening.bounds
    if faces == "top":
        return float(board.width_mm - design.mark_mm(tail, "top") - low)
    return float(high - design.mark_mm(tail, "bottom"))


def _require_whole_side(board: Board, design: EndDesign, kerf: Kerf, kerf_mm: float, slope: float, where: str) -> None:
    """The kerf lies along the side, from the end until its first corner touches the baseline."""
    sawn_mm = design.tail_length_mm - kerf_mm * math.sin(slope)
    inward = math.tan(slope)
    for depth in (0.0, sawn_mm):
        x = depth if kerf.end == "A" else board.length_mm - depth
        if kerf.faces == "top":
            y = board.width_mm - design.mark_mm(kerf.tail, "top") - kerf.shift_mm - depth * inward
        else:
            y = design.mark_mm(kerf.tail, "bottom") + kerf.shift_mm + depth * inward
        gap = kerf.outline.exterior.distance(Point(x, y))
        _require(gap <= EXACT_MM, f"{where}: {gap:.6f} mm between the kerf and the side, {depth:.3f} mm deep")


def _depth(board: Board, end: str, point: Vector) -> float:
    return point[0] if end == "A" else board.length_mm - point[0]


def _moved(shape: Polygon, rotation: Matrix, offset: Vector) -> Polygon:
    return affinity.affine_transform(shape, [*rotation[0], *rotation[1], *rotation[2], *offset])


def _require(condition: bool, problem: str) -> None:
    if not condition:
        raise SpoiledWoodError(problem)
