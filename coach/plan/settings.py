"""Which fence settings serve which sides: decided once, when a batch starts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from coach.ground.errors import CoachError
from coach.ground.terms import Edge, End, Lie
from coach.plan.geometry import lie_for
from coach.plan.job import Board, Job, Pattern
from coach.plan.reach import PatternSide


@dataclass(frozen=True, slots=True)
class Settings:
    """Fence settings in the order in which they are worked through.

    Attributes:
        fence_mm: where the fence stands (F) at each setting.
        serves: for each pattern of the job, which setting (an index) serves each of its sides.
        own: for boards that came later or were mended, by number, what serves them instead.
        smallest_first: whether the fence travels from the smallest mark to the largest, and not the other way.
        rigs: with which rig of the shop each setting cuts; empty where all cut with the fence and the jig in use.
    """

    fence_mm: tuple[float, ...]
    serves: tuple[Mapping[PatternSide, int], ...]
    own: Mapping[int, Mapping[PatternSide, int]] = field(default_factory=dict)
    smallest_first: bool = False
    rigs: tuple[int, ...] = ()

    def rig(self, setting: int) -> int:
        """The rig of the shop with which a setting cuts."""
        return self.rigs[setting] if self.rigs else 0

    def move_mm(self, setting: int) -> float | None:
        """How far the fence goes from the setting before to this one, away from the blade; None at a rig's first."""
        if setting == 0 or self.rig(setting) != self.rig(setting - 1):
            return None
        return self.fence_mm[setting] - self.fence_mm[setting - 1]

    def stop_room_mm(self, job: Job, setting: int) -> float:
        """How far the jig's stop may reach past its tip at most, so that no setting with that rig has the blade in it:
        from the tip, at F - W, to the kerf, at the nearest of them."""
        rig = self.rig(setting)
        nearest = min(fence for index, fence in enumerate(self.fence_mm) if self.rig(index) == rig)
        return nearest - job.rigged(rig).shop.jig.leading_width_mm

    @property
    def rig_changes(self) -> int:
        """How often another fence or jig is set up on the way through all settings."""
        return sum(before != after for before, after in pairwise(self.rigs))

    def serving(self, board: Board) -> Mapping[PatternSide, int]:
        """Which setting serves each side of a board."""
        return self.own.get(board.number) or self.serves[board.pattern]


def one_cut_each(job: Job, settings: Settings, pattern: Pattern, serving: Mapping[PatternSide, int]) -> None:
    """CoachError if a setting would serve two sides of a board that lies the same way for both."""
    seen: dict[tuple[int, Lie], int] = {}
    for (end, tail, faces), setting in serving.items():
        key = (setting, lie_for(job.rigged(settings.rig(setting)).shop.jig, end, faces))
        if key in seen:
            raise CoachError(
                f'part "{pattern.part.label}", end {end}: one fence setting would serve the {faces} sides of tails '
                f"{seen[key]} and {tail}; expected a smaller tolerance or a finer scale"
            )
        seen[key] = tail


def lie_at(job: Job, settings: Settings, setting: int, end: End, faces: Edge) -> Lie:
    """How a board has to lie for a side to be cut at a setting, told as for the fence in use, whichever side of the
    blade the setting's own fence is on: so the turns between settings of several rigs can be told."""
    shop = job.rigged(settings.rig(setting)).shop
    lie = lie_for(shop.jig, end, faces)
    return lie if shop.fence.side is job.shop.fence.side else lie.across()
