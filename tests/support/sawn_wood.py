"""What really becomes of the boards of a batch: how they lie, and every kerf that is in their wood.

Boards are rigid bodies as in `rigid_board`; nothing here comes from the program under test but what it says is to be
done. Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon
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
    Vector,
    about_vertical,
    apply,
    lying,
    tail_outline,
    times,
    transposed,
)

from coach.ground.terms import Edge, End, Hand, Side
from coach.plan.job import Job, Pattern
from coach.plan.steps import Step
from coach.shop.tools import Shop


@dataclass(frozen=True)
class Kerf:
    """A cut as it was really made.

    Attributes:
        end, edge: the end that led and the edge that bore on the jig.
        depth_mm: how far from the end the deepest corner got.
    """

    bench: Bench
    kerf_mm: float
    end: str
    edge: str
    depth_mm: float

    def off(self, into_tail_mm: float) -> Kerf:
        """The same cut with its mark so much further into the tail."""
        far = self.bench.taper * into_tail_mm * math.cos(self.bench.jig.slope)
        return replace(self, bench=replace(self.bench, fence_mm=self.bench.fence_mm + far))

    def deeper(self, by_mm: float) -> Kerf:
        """The same cut, not stopped in time."""
        return replace(self, depth_mm=self.depth_mm + by_mm)

    def mark_mm(self, board: Board, faces: str) -> float:
        """Where its side that faces away from the edge `faces` meets the board's end, from that edge."""
        x = 0.0 if self.end == "A" else board.length_mm
        at_end = self.outline(board).intersection(LineString([(x, -1000.0), (x, board.width_mm + 1000.0)]))
        return board.width_mm - at_end.bounds[1] if faces == "top" else at_end.bounds[3]

    def outline(self, board: Board) -> Polygon:
        """What it takes of a board, in the board's own frame."""
        turned = _turned_so(self.bench, self.end, self.edge)
        rotation = times(about_vertical(self.bench.slant), times(LAID, turned))
        tip_mm = (0.0 if self.end == "A" else board.length_mm, board.width_mm if self.edge == "top" else 0.0, 0.0)
        tip = apply(rotation, tip_mm)
        offset = (self.bench.corner[0] - tip[0], self.bench.corner[1] - tip[1], 0.0)
        back = transposed(rotation)
        left, right = sorted((0.0, -self.bench.side * self.kerf_mm))
        depths = [_depth(board, self.end, apply(back, (x - offset[0], -offset[1], 0.0))) for x in (left, right)]
        ahead = apply(back, (0.0, -1.0, 0.0))[0] * (1 if self.end == "A" else -1)
        front = -(self.depth_mm - max(depths)) / ahead
        behind = board.width_mm + board.length_mm
        slot = Polygon([(left, front, 0.0), (right, front, 0.0), (right, behind, 0.0), (left, behind, 0.0)])
        home = apply(back, (-offset[0], -offset[1], 0.0))
        return shapely.force_2d(affinity.affine_transform(slot, [*back[0], *back[1], *back[2], *home]))


@dataclass
class SawnBoard:
    """One board: kerfs that stand for a side, by the number of the event that says so, and those that stand for none.

    Attributes:
        put: how it was put down, one after the other, each with the event of the cut; None if it can't be taken back.
        followed: whether it is known how it lies, so that turns can be checked.
    """

    standing: dict[int, tuple[Side, Kerf]] = field(default_factory=dict)
    loose: list[Kerf] = field(default_factory=list)
    put: list[tuple[int | None, Matrix]] = field(default_factory=list)
    followed: bool = True


class Wood:
    """The boards of a batch."""

    def __init__(self) -> None:
        self.boards: dict[int, SawnBoard] = {}
        self.like_others: set[Side] = set()  # within tolerance of where the others are cut, which may be off as well

    def of(self, number: int) -> SawnBoard:
        """The board of that number."""
        return self.boards.setdefault(number, SawnBoard())

    def cut(self, event: int, step: Step, shop: Shop, fence_mm: float, tail_length_mm: float) -> None:
        """Turns a board as a step says, checks that it then lies as it says, and cuts it."""
        assert step.side is not None and step.edge is not None and step.face_up is not None
        board = self.of(step.side.board)
        bench = bench_of(shop, fence_mm)
        said = (step.side.end.value, step.edge.value, step.face_up.value)
        if board.put and board.followed:
            turned = times(board.put[-1][1], HALF_TURNS[None if step.turn is None else step.turn.value])
            assert lying(turned, bench) == said, f"{step} leaves the board lying {lying(turned, bench)}"
        else:
            assert board.put or step.turn is None, "a board that was never put down is turned"
            turned = _turned_so(bench, said[0], said[1])
            assert lying(turned, bench) == said
        board.put.append((event, turned))
        board.standing[event] = (step.side, Kerf(bench, shop.saw.kerf_mm, said[0], said[1], tail_length_mm))

    def never_cut(self, number: int, event: int) -> None:
        """A cut turns out not to have been made."""
        board = self.of(number)
        board.standing.pop(event, None)
        board.put = [(by, turned) for by, turned in board.put if by != event]

    def as_cut(self, number: int, event: int, kerf: Kerf, *, like_others: bool = False) -> None:
        """A cut that stands turns out to have been made otherwise."""
        board = self.of(number)
        if like_others:
            self.like_others.add(board.standing[event][0])
        board.standing[event] = (board.standing[event][0], kerf)

    def elsewhere(self, number: int, event: int, kerf: Kerf, counts_as: tuple[int, Side] | None) -> None:
        """A cut turns out not to be where it was meant; it may stand for another side, by another event."""
        board = self.of(number)
        del board.standing[event]
        if counts_as is None:
            board.loose.append(kerf)
        else:
            board.standing[counts_as[0]] = (counts_as[1], kerf)
        if board.put and board.put[-1][0] == event:
            board.put[-1] = (None, _turned_so(kerf.bench, kerf.end, kerf.edge))
        else:
            board.followed = False

    def letter_anew(self, number: int) -> None:
        """A board's faces change their names, and so its ends; its wood is what it was.

        In the board's own frame that is a half-turn about its width: the axes along it and through it turn round.
        """
        board = self.of(number)
        board.standing = {
            event: (side._replace(end=side.end.other), _other_end(kerf))
            for event, (side, kerf) in board.standing.items()
        }
        board.loose = [_other_end(kerf) for kerf in board.loose]
        board.put = [(event, times(turned, HALF_TURNS["end-over-end"])) for event, turned in board.put]

    def inspect(self, number: int, job: Job, tolerance_mm: float) -> None:
        """Checks that the wood left of a finished board is what its layout, as it is now, says."""
        pattern = job.pattern_of(number)
        board = designed(pattern, job.board(number).label)
        sawn = self.of(number)
        kerfs = dict(sawn.standing.values())
        assert len(kerfs) == len(sawn.standing), "a side is cut twice"
        assert set(kerfs) == {Side(number, *key) for key in pattern.sides()}, "not all sides are cut"
        outlines = {side: kerf.outline(board) for side, kerf in kerfs.items()}
        shifts = {}
        for side, outline in outlines.items():
            shifts[side] = _shift(board, side, outline, kerfs[side].bench.jig.slope)
            allowed_mm = tolerance_mm * (2 if side in self.like_others else 1)
            assert abs(shifts[side]) <= allowed_mm + EXACT_MM, f"{side} is {shifts[side]} off, {allowed_mm} allowed"
            baseline_mm = board.ends[side.end].tail_length_mm
            assert kerfs[side].depth_mm <= baseline_mm + EXACT_MM, f"{side} runs past the baseline"
        slope = job.shop.jig.slope
        loose = [kerf.outline(board) for kerf in sawn.loose]
        for end, joint in pattern.ends.items():
            for tail in range(1, joint.tails + 1):
                own = {faces: Side(number, end, tail, faces) for faces in Edge}
                top, bottom = (shifts[own[faces]] for faces in (Edge.TOP, Edge.BOTTOM))
                whole = tail_outline(board, end.value, tail, slope, top_shift_mm=top, bottom_shift_mm=bottom)
                assert whole.is_valid, f"nothing is left of tail {tail} at end {end}"
                _spared(whole, [outlines[side] for side in own.values()], f"tail {tail} at end {end}, its own cuts")
                core = tail_outline(
                    board,
                    end.value,
                    tail,
                    slope,
                    top_shift_mm=max(top, tolerance_mm),
                    bottom_shift_mm=max(bottom, tolerance_mm),
                )
                _spared(core, [*outlines.values(), *loose], f"tail {tail} at end {end}")


def _other_end(kerf: Kerf) -> Kerf:
    return replace(kerf, end="B" if kerf.end == "A" else "A")


def designed(pattern: Pattern, label: str) -> Board:
    """A board as its layout says."""
    ends = {
        end.value: EndDesign(joint.tail_length_mm, joint.top_marks_mm, joint.bottom_marks_mm)
        for end, joint in pattern.ends.items()
    }
    part = pattern.part
    return Board(label, part.width_mm, part.length_mm, part.thickness_mm, ends)


def bench_of(shop: Shop, fence_mm: float) -> Bench:
    """Fence, jig and blade as they stand for a cut."""
    jig = shop.jig
    leads = "wide" if jig.wide_leads else "narrow"
    side = 1 if shop.fence.side is Hand.RIGHT else -1
    return Bench(side, Jig(jig.slope, jig.leading_width_mm, leads, jig.length_mm), fence_mm)


def _turned_so(bench: Bench, end: str, edge: str) -> Matrix:
    """The one way in which a board lies with that end leading and that edge at the jig."""
    (found,) = (turned for turned in HALF_TURNS.values() if lying(turned, bench)[:2] == (end, edge))
    return found


def _depth(board: Board, end: str, point: Vector) -> float:
    return point[0] if end == "A" else board.length_mm - point[0]


def _shift(board: Board, side: Side, outline: Polygon, slope: float) -> float:
    """How far a kerf reaches past its mark into the tail, checked to be the same at the end and half-way in."""
    design = board.ends[side.end.value]
    mark = design.mark_mm(side.tail, side.faces.value)
    far = board.length_mm + 10 * board.width_mm
    found = []
    for depth in (0.0, design.tail_length_mm / 2):
        x = depth if side.end is End.A else board.length_mm - depth
        opening = outline.intersection(LineString([(x, -far), (x, far)]))
        assert not opening.is_empty, f"{side}: the kerf doesn't get {depth} mm in"
        _, low, _, high = opening.bounds
        line = mark + depth * math.tan(slope)
        found.append(board.width_mm - line - low if side.faces is Edge.TOP else high - line)
    assert abs(found[0] - found[1]) < EXACT_MM, f"{side}: the kerf runs at another slope"
    return float(found[0])


def _spared(outline: Polygon, kerfs: Sequence[Polygon], what: str) -> None:
    lost = sum(outline.intersection(kerf).area for kerf in kerfs)
    assert lost <= EXACT_MM2, f"{what}: {lost:.6f} mm² sawn off"
