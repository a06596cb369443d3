"""What a plan costs at the saw: fence moves, boards picked up, turns."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coach.ground.terms import Turn
from coach.plan.job import Job
from coach.plan.steps import Step, StepKind
from coach.plan.walking.turns import turn_costs


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


@dataclass(frozen=True, slots=True)
class Cost:
    """What handling comes to by the shop's own costs, in whole milliseconds; sawing itself isn't in it.

    Attributes:
        switch_offs: after how many cuts the saw is switched off.
    """

    fence_ms: int
    pick_up_ms: int
    turns_ms: int
    switch_off_ms: int
    switch_offs: int

    @property
    def total_ms(self) -> int:
        """All of it."""
        return self.fence_ms + self.pick_up_ms + self.turns_ms + self.switch_off_ms

    @classmethod
    def of(cls, job: Job, steps: Sequence[Step]) -> Cost:
        """What `steps` come to; the saw is switched off after each cut if boards are drawn back only when it stands."""
        handling = job.shop.handling
        totals = Totals.of(steps)
        cuts = [step for step in steps if step.side is not None]
        switch_offs = len(cuts) if job.shop.saw.backing_out == "stopped" else 0
        return cls(
            totals.moves * handling.fence_move_ms,
            totals.pick_ups * handling.pick_up_ms,
            sum(turn_ms(job, step) for step in cuts),
            switch_offs * handling.switch_off_ms,
            switch_offs,
        )


def turn_ms(job: Job, step: Step) -> int:
    """What the turn before a cut costs."""
    assert step.side is not None
    length_mm = job.pattern_of(step.side.board).part.length_mm
    return turn_costs(job.shop.handling, length_mm).of(step.turn)
