"""The steps at the bench that are left once the last cut is made."""

from __future__ import annotations

from collections.abc import Set as AbstractSet

from coach.ground.terms import End
from coach.plan.job import Job
from coach.plan.steps import BENCH_KINDS, Step, StepKind

BenchKey = tuple[StepKind, int, End]
"""A step at the bench: its kind, the board's number and the end."""


class BenchLeft:
    """What is left at the bench, kept up to date step by step.

    Attributes:
        done: the steps that are done.
        whole: how many there are in all, done or not.
        left: how many of them are left.
    """

    def __init__(self, job: Job, out: AbstractSet[int], done: AbstractSet[BenchKey]) -> None:
        self.done = set(done)
        self._steps = [
            (kind, board.number, end)
            for kind in BENCH_KINDS
            for board in job.boards
            if not board.spare and board.number not in out
            for end in job.patterns[board.pattern].ends
        ]
        self._place = {step: place for place, step in enumerate(self._steps)}
        self._at = 0
        self.whole = len(self._steps)
        self.left = sum(step not in self.done for step in self._steps)

    def step(self) -> Step | None:
        """The first step that is left, one kind of step after the other; None if none is."""
        while self._at < len(self._steps) and self._steps[self._at] in self.done:
            self._at += 1
        if self._at == len(self._steps):
            return None
        kind, board, end = self._steps[self._at]
        return Step(kind, board=board, end=end)

    def take(self, step: BenchKey) -> None:
        """A step is done."""
        self.left -= step not in self.done
        self.done.add(step)

    def give_back(self, step: BenchKey) -> None:
        """A step that was done is left to do."""
        self.done.discard(step)
        self.left += 1
        self._at = min(self._at, self._place[step])
