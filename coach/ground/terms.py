"""The trade's words for how a board lies and what is cut: ends, edges, faces, turns and sides."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class End(StrEnum):
    """An end of a tail board; with the outside face towards you and the top edge up, A is at the left."""

    A = "A"
    B = "B"

    @property
    def other(self) -> End:
        """The other end of the same board."""
        return End.B if self is End.A else End.A


class Edge(StrEnum):
    """A long edge of a tail board; both bear on the jig, one after the other."""

    TOP = "top"
    BOTTOM = "bottom"

    @property
    def other(self) -> Edge:
        """The opposite edge of the same board."""
        return Edge.BOTTOM if self is Edge.TOP else Edge.TOP


class Face(StrEnum):
    """A face of a board: outside or inside of the finished piece."""

    OUTSIDE = "outside"
    INSIDE = "inside"

    @property
    def other(self) -> Face:
        """The opposite face of the same board."""
        return Face.INSIDE if self is Face.OUTSIDE else Face.OUTSIDE


class Hand(StrEnum):
    """Left and right of handed parts, and the side of the blade on which a fence or column stands."""

    LEFT = "left"
    RIGHT = "right"


class Joint(StrEnum):
    """A through joint shows on both faces; a half-blind one leaves a lap that hides the tails' ends."""

    THROUGH = "through"
    HALF_BLIND = "half-blind"


class Turn(StrEnum):
    """How a board goes from one cut to the next."""

    EDGE_FOR_EDGE = "edge-for-edge"
    END_FOR_END = "end-for-end"
    END_OVER_END = "end-over-end"


class Lie(NamedTuple):
    """How a board lies on the table: the end that leads and the edge that bears on the jig."""

    end: End
    edge: Edge

    def turned(self, turn: Turn | None) -> Lie:
        """How the board lies after `turn` (None leaves it)."""
        match turn:
            case Turn.EDGE_FOR_EDGE:
                return Lie(self.end, self.edge.other)
            case Turn.END_FOR_END:
                return Lie(self.end.other, self.edge.other)
            case Turn.END_OVER_END:
                return Lie(self.end.other, self.edge)
        return self

    def turn_to(self, other: Lie) -> Turn | None:
        """The one turn that brings the board from here to `other`; None if it lies so already."""
        if self == other:
            return None
        if self.end is other.end:
            return Turn.EDGE_FOR_EDGE
        return Turn.END_OVER_END if self.edge is other.edge else Turn.END_FOR_END

    def across(self) -> Lie:
        """The same board, lying as it does, told with fence and jig at its other side."""
        return Lie(self.end, self.edge.other)

    def face_up(self, fence_side: Hand) -> Face:
        """The face that looks up.

        With the fence at the right, end A leading and the top edge at the jig, the outside face is up (look at the
        outside face with the top edge up: A is at the left; a quarter turn clockwise brings A away from you and the
        top edge to the right). Each half-turn about the length or the width changes the face; a fence at the left
        is the mirror image.
        """
        outside = (self.end is End.A) == (self.edge is Edge.TOP)
        if fence_side is Hand.LEFT:
            outside = not outside
        return Face.OUTSIDE if outside else Face.INSIDE


class Side(NamedTuple):  # which is made and compared quicker than a dataclass, and a batch may have 80,000
    """A side of a tail: what is to be cut, and the one identity of a cut in plan, record and JSON.

    Attributes:
        board: number in the batch, from 1, never reused.
        end: of the board.
        tail: 1, 2, … from the top edge.
        faces: the edge that this side of the tail faces.
    """

    board: int
    end: End
    tail: int
    faces: Edge
