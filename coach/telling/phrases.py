"""How lengths, readings, moves and turns are said, on screen and on paper alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from coach.ground import places
from coach.ground.lengths import Graduation, Unit, show_length
from coach.ground.terms import Turn
from coach.shop.tools import Fence, Shop

if TYPE_CHECKING:
    from coach.plan.walking.walker import Walker

TURN_WORDS = {
    Turn.EDGE_FOR_EDGE: "roll it over, edge for edge",
    Turn.END_FOR_END: "spin it flat, end for end",
    Turn.END_OVER_END: "tumble it, end over end",
}
"""What to do."""

TURN_CHANGES = {
    Turn.EDGE_FOR_EDGE: "other edge, other face, same end",
    Turn.END_FOR_END: "other end, other edge, same face",
    Turn.END_OVER_END: "other end, other face, same edge",
}
"""What is different afterwards."""

SAMPLE_SHOP = "Sample shop in use, not yours"


def sample_shop_note() -> str:
    """Says that the sample shop is in use, and where one's own goes."""
    return f"{SAMPLE_SHOP}: {places.where_a_shop_goes()}"


def reading_at(walker: Walker, setting: int, saying: Saying) -> str:
    """What the scale of a setting's own fence should read."""
    return saying.on(walker.job_at(setting).shop.fence).reading(walker.reading_mm(setting))


def rig_words(shop: Shop, rig: int) -> str:
    """The fence and the jig of a rig, in words."""
    rigged = shop.rigged(rig)
    over = ", turned over" if rigged.fence.side is not shop.fence.side else ""
    leads = "wide" if rigged.jig.wide_leads else "narrow"
    return f"fence at the {rigged.fence.side} of the blade, jig “{rigged.jig.name}”{over}, its {leads} end leading"


def counted(number: int, what: str) -> str:
    """Such as "1 board" or "13 boards"."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


@dataclass(frozen=True, slots=True)
class Saying:
    """How lengths are shown: readings on the fence's own scale, everything else in `unit`."""

    unit: Unit
    graduation: Graduation | None

    def on(self, fence: Fence) -> Saying:
        """The same with the readings on the scale of `fence`."""
        return replace(self, graduation=fence.graduation)

    def length(self, mm: float) -> str:
        """A length of wood, or how far off something is."""
        return show_length(mm, self.unit)

    def reading(self, mm: float) -> str:
        """What the fence's scale should read, with what is left over beside the nearest graduation."""
        if self.graduation is None:
            return show_length(mm, self.unit)
        return show_length(mm, self.graduation.unit, self.graduation)

    def step(self) -> str:
        """The scale's smallest graduation."""
        assert self.graduation is not None
        return show_length(float(self.graduation.step_mm), self.graduation.unit, self.graduation)

    def move(self, mm: float | None) -> str:
        """How far the fence moves and which way, in the scale's unit; positive is away from the blade."""
        if mm is None:
            return "from anywhere"
        far = self.reading(abs(mm))
        if " + " in far or " - " in far:
            far = show_length(abs(mm), self.graduation.unit if self.graduation else self.unit)
        return f"{far} {'away from' if mm > 0 else 'towards'} the blade"
