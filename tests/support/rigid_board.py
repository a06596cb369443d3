"""Boards as rigid bodies for the replay of a plan: how they are designed, how they lie, how they turn.

Derived from the geometry of jig, fence and blade alone; nothing here comes from the program under test.
Lengths in mm, angles in radians. A board's own frame: first axis along the length from end A to end B, second
along the width from the bottom edge to the top edge, third through the thickness from the inside face to the
outside face (right-handed: with the outside face towards you and the top edge up, A is at the left). The
table's frame: x to the right, y away from the user, z up.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

EXACT_MM = 1e-6
EXACT_MM2 = 1e-6

Vector = tuple[float, float, float]
Matrix = tuple[Vector, Vector, Vector]
SideKey = tuple[str, str, int, str]

UNTURNED: Matrix = ((1, 0, 0), (0, 1, 0), (0, 0, 1))
HALF_TURNS: Mapping[str | None, Matrix] = {
    None: UNTURNED,
    "edge-for-edge": ((1, 0, 0), (0, -1, 0), (0, 0, -1)),
    "end-over-end": ((-1, 0, 0), (0, 1, 0), (0, 0, -1)),
    "end-for-end": ((-1, 0, 0), (0, -1, 0), (0, 0, 1)),
}
# End A away from the user, top edge right, outside face up: length to -y, width to +x, thickness to +z.
LAID: Matrix = ((0, 1, 0), (-1, 0, 0), (0, 0, 1))


@dataclass(frozen=True)
class EndDesign:
    """Tails at one end: marks in mm, each list ascending from its own edge."""

    tail_length_mm: float
    top_marks_mm: tuple[float, ...]
    bottom_marks_mm: tuple[float, ...]

    def mark_mm(self, tail: int, faces: str) -> float:
        """The mark of the side of `tail` (1, 2, … from the top) that faces the edge `faces`."""
        if faces == "top":
            return self.top_marks_mm[tail - 1]
        return self.bottom_marks_mm[len(self.top_marks_mm) - tail]


@dataclass(frozen=True)
class Board:
    """A tail board as designed; `shift_mm` is how far a mark may move along the end."""

    label: str
    width_mm: float
    length_mm: float
    thickness_mm: float
    ends: Mapping[str, EndDesign]
    shift_mm: float = EXACT_MM


@dataclass(frozen=True)
class Jig:
    """A tapered board along the fence: its slope in radians and its width at the leading end."""

    slope: float
    leading_width_mm: float
    leading_end: str = "wide"
    length_mm: float = 300.0


@dataclass(frozen=True)
class Bench:
    """Where boards are cut: fence at the right (+1) or left (−1), the jig, the fence's distance F."""

    side: int
    jig: Jig
    fence_mm: float

    @property
    def slant(self) -> float:
        """How far the board is turned about the vertical, counter-clockwise."""
        return self.side * self.taper * self.jig.slope

    @property
    def taper(self) -> int:
        """+1 where the jig narrows towards the user, −1 where it widens."""
        return 1 if self.jig.leading_end == "wide" else -1

    @property
    def corner(self) -> tuple[float, float]:
        """Where the jig's bearing edge meets its stop; the table's y is counted from here."""
        return (self.side * (self.fence_mm - self.jig.leading_width_mm), 0.0)

    def jig_outline(self) -> Polygon:
        """The jig on the table, without its stop."""
        x, y = self.corner
        run = self.jig.length_mm
        end_x = x + self.side * self.taper * run * math.sin(self.jig.slope)
        end_y = y - run * math.cos(self.jig.slope)
        fence_x = self.side * self.fence_mm
        return Polygon([(fence_x, y), (x, y), (end_x, end_y), (fence_x, end_y)])


def times(a: Matrix, b: Matrix) -> Matrix:
    """The matrix product a·b."""
    rows = [tuple(sum(a[i][n] * b[n][j] for n in range(3)) for j in range(3)) for i in range(3)]
    return (_vector(rows[0]), _vector(rows[1]), _vector(rows[2]))


def apply(a: Matrix, v: Vector) -> Vector:
    """The matrix a applied to the vector v."""
    return _vector([sum(a[i][n] * v[n] for n in range(3)) for i in range(3)])


def transposed(a: Matrix) -> Matrix:
    """The transpose, which for a rotation is its inverse."""
    rows = [tuple(a[j][i] for j in range(3)) for i in range(3)]
    return (_vector(rows[0]), _vector(rows[1]), _vector(rows[2]))


def determinant(a: Matrix) -> float:
    """+1 for a rotation, −1 for a reflection."""
    (p, q, r), (s, t, u), (v, w, x) = a
    return p * (t * x - u * w) - q * (s * x - u * v) + r * (s * w - t * v)


def about_vertical(angle: float) -> Matrix:
    """A counter-clockwise rotation on the table."""
    c, s = math.cos(angle), math.sin(angle)
    return ((c, -s, 0.0), (s, c, 0.0), (0.0, 0.0, 1.0))


def lying(turned: Matrix, bench: Bench) -> tuple[str, str, str]:
    """The end that leads, the edge towards the fence and the face up of a board turned so."""
    rotation = times(about_vertical(bench.slant), times(LAID, turned))
    assert abs(determinant(rotation) - 1) < 1e-9, "a board can't be reflected"
    along, across, up = (apply(rotation, axis) for axis in UNTURNED)
    end = "A" if along[1] < 0 else "B"
    edge = "top" if across[0] * bench.side > 0 else "bottom"
    face = "outside" if up[2] > 0 else "inside"
    return end, edge, face


def tail_outline(
    board: Board,
    end: str,
    tail: int,
    slope: float,
    *,
    top_shift_mm: float = 0.0,
    bottom_shift_mm: float = 0.0,
) -> Polygon:
    """The tail as designed, in the board's own frame, each side shifted into the tail."""
    design = board.ends[end]
    root = design.tail_length_mm
    top = board.width_mm - design.mark_mm(tail, "top") - top_shift_mm
    bottom = design.mark_mm(tail, "bottom") + bottom_shift_mm
    taper = root * math.tan(slope)
    x_end, x_root = (0.0, root) if end == "A" else (board.length_mm, board.length_mm - root)
    return Polygon([(x_end, top), (x_end, bottom), (x_root, bottom + taper), (x_root, top - taper)])


def _vector(values: Sequence[float]) -> Vector:
    a, b, c = values
    return (a, b, c)
