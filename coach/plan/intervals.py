"""Where the fence may stand: from where to where, and the places that the scale has."""

from __future__ import annotations

import math
from dataclasses import dataclass

NEAR = 1e-9


@dataclass(frozen=True, slots=True)
class Interval:
    """Where a point may lie (low to high), and where it would best lie; mm."""

    low: float
    ideal: float
    high: float

    def holds(self, point: float) -> bool:
        """Whether the point meets the interval."""
        return self.low - NEAR <= point <= self.high + NEAR


@dataclass(frozen=True, slots=True)
class Grid:
    """The points at `start + n * step`; mm."""

    start: float
    step: float

    def within(self, low: float, high: float) -> list[float]:
        """The grid's points from low to high."""
        first = math.ceil((low - self.start) / self.step - NEAR)
        last = math.floor((high - self.start) / self.step + NEAR)
        return [self.start + number * self.step for number in range(first, last + 1)]

    def has(self, point: float) -> bool:
        """Whether the point is on the grid."""
        steps = (point - self.start) / self.step
        return abs(steps - round(steps)) * self.step <= NEAR
