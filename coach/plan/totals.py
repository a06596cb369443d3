"""What a plan costs at the saw: fence moves, boards picked up, turns."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from coach.plan.steps import Step, StepKind
from coach.words import Turn


@dataclass(frozen=True, slots=True)
class Totals:
    """What a plan costs at the saw."""

    moves: int
    pick_ups: int
    turns: Counter[Turn]

    @classmethod
    def of(cls, steps: Iterable[Step]) -> Totals:
        """Counted over `steps`."""
        moves = pick_ups = 0
        turns: Counter[Turn] = Counter()
        held: int | None = None
        for step in steps:
            if step.kind is StepKind.SET_FENCE:
                moves += 1
                held = None
            if step.side is not None:
                pick_ups += step.side.board != held
                held = step.side.board
                if step.turn is not None:
                    turns[step.turn] += 1
        return cls(moves, pick_ups, turns)
