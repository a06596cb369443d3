"""The shop: saw, fences and jigs. Lengths in mm, slopes in radians."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeVar

from coach.ground.lengths import Graduation, Unit
from coach.ground.terms import Hand

Thing = TypeVar("Thing")

MOST_BLOCKS = 120
"""How many spacer blocks a shop may have in all: a full set of gauge blocks is smaller."""


@dataclass(frozen=True, slots=True)
class Saw:
    """The bandsaw.

    Attributes:
        kerf_mm: the slot that the blade leaves, as wide as the tooth set.
        column_side: of the blade, seen from the front.
        throat_mm: from the blade to the column.
        backing_out: "stopped" (switch off and wait before drawing back) or "as trained".
    """

    kerf_mm: float
    column_side: Hand
    throat_mm: float
    backing_out: str


@dataclass(frozen=True, slots=True)
class Fence:
    """A fence and its scale.

    Attributes:
        side: of the blade on which it stands.
        min_mm, max_mm: how near to the blade and how far from it its face can stand.
        front_mm: how far it reaches from the blade towards the user.
        body_mm: how thick it is behind its face.
        graduation: the scale's smallest graduation, None without a scale.
        zero_mm: what the scale reads when the face touches the kerf; reading = F + zero.
    """

    side: Hand
    min_mm: float
    max_mm: float
    front_mm: float
    body_mm: float
    graduation: Graduation | None
    zero_mm: float


@dataclass(frozen=True, slots=True)
class Jig:
    """A tapered board that runs along the fence.

    Attributes:
        leading_width_mm: how wide it is at the bearing face of its stop, at the leading end.
        wide_leads: whether the wide end leads (else the narrow one).
        stop_thickness_mm: how thick its stop is, if that is known.
    """

    name: str
    slope: float
    leading_width_mm: float
    wide_leads: bool
    length_mm: float
    thickness_mm: float
    stop_thickness_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Handling:
    """What handling costs, in whole milliseconds, so that sums of it compare exactly.

    Attributes:
        fence_move_ms: setting the fence.
        pick_up_ms: taking a board from the stack and putting it back.
        edge_for_edge_ms, end_for_end_ms, end_over_end_ms: a turn; rolling a board over swings nothing, spinning it
            swings its length, tumbling does both.
        swing_ms_per_m: what the two turns that swing a board cost more for each metre of its length.
        switch_off_ms: switching off after a cut and waiting for the blade, where the board is drawn back so.
    """

    fence_move_ms: int = 60_000
    pick_up_ms: int = 3_000
    edge_for_edge_ms: int = 2_000
    end_for_end_ms: int = 3_000
    end_over_end_ms: int = 4_000
    swing_ms_per_m: int = 2_000
    switch_off_ms: int = 8_000


@dataclass(frozen=True, slots=True)
class Block:
    """Spacer blocks of one length, of which there are so many."""

    length_mm: float
    count: int


@dataclass(frozen=True, slots=True)
class Shop:
    """What there is to cut with. The first fence and the first jig are the ones in use.

    Attributes:
        sample: whether this is the sample shop, because the person has no shop file yet.
        blocks: the person's own spacer blocks.
    """

    saw: Saw
    fences: tuple[Fence, ...]
    jigs: tuple[Jig, ...]
    sample: bool = False
    handling: Handling = Handling()
    blocks: tuple[Block, ...] = ()

    @property
    def fence(self) -> Fence:
        """The fence in use."""
        return self.fences[0]

    @property
    def jig(self) -> Jig:
        """The jig in use."""
        return self.jigs[0]

    @property
    def rigs(self) -> int:
        """How many pairs of a fence and a jig there are; the pair in use is rig 0."""
        return len(self.fences) * len(self.jigs)

    def rigged(self, rig: int) -> Shop:
        """The same shop with the fence and the jig of a rig in use."""
        jig, fence = divmod(rig, len(self.fences))
        return replace(self, fences=_first(self.fences, fence), jigs=_first(self.jigs, jig))

    @property
    def unit(self) -> Unit:
        """The unit of the fence's scale; millimetres without one."""
        return self.fence.graduation.unit if self.fence.graduation else "mm"


def _first(things: tuple[Thing, ...], index: int) -> tuple[Thing, ...]:
    return (things[index], *things[:index], *things[index + 1 :])
