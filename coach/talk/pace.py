"""How much one key completes: a step, all cuts of a board, or all cuts of a fence setting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from enum import StrEnum

from coach.plan.steps import Step, StepKind
from coach.plan.walking.walker import Walker
from coach.telling.phrases import counted

MOST_UNASKED_BOARDS = 4
"""With more boards than this in one key, the key has to be pressed twice."""


class Pace(StrEnum):
    """What one key completes; it makes a difference for cuts alone."""

    STEP = "step"
    BOARD = "board"
    SETTING = "setting"

    @property
    def following(self) -> Pace:
        """The one that comes next when they are gone through with a key."""
        return PACES[(PACES.index(self) + 1) % len(PACES)]


PACES = tuple(Pace)
PACE_WORDS = {
    Pace.STEP: "One key a step: each cut by itself.",
    Pace.BOARD: "One key a board: it completes every cut of the board in hand until the fence moves.",
    Pace.SETTING: "One key a setting: it completes every cut of every board until the fence moves.",
}


def stretch(walker: Walker, pace: Pace) -> tuple[Step, ...]:
    """The steps that the next key completes; none when the batch is done. The walker isn't changed.

    Anything but a cut is one step. At the pace of a board it is every cut of the board in hand that comes before the
    fence moves; at that of a setting every cut up to the next step of another kind.
    """
    step = walker.peek()
    if step is None or step.kind is not StepKind.CUT or pace is Pace.STEP:
        return () if step is None else (step,)
    situation = walker.situation()
    if pace is Pace.BOARD:  # a board's way depends on no other board, and without them there is less to copy
        assert step.side is not None
        others = frozenset(board.number for board in walker.job.boards) - {step.side.board}
        situation = replace(situation, out=others)
    return tuple(_cuts(Walker(situation), step))


def _cuts(walker: Walker, step: Step | None) -> Iterator[Step]:
    """`step` and the cuts that follow it without another step between; the walker goes along."""
    while step is not None and step.kind is StepKind.CUT:
        yield step
        walker.advance(step)
        step = walker.peek()


def boards_in(steps: Sequence[Step]) -> int:
    """On how many boards the cuts among `steps` are."""
    return len({step.side.board for step in steps if step.side is not None})


def amount(steps: Sequence[Step]) -> str:
    """`48 cuts on 12 boards`."""
    return f"{counted(len(steps), 'cut')} on {counted(boards_in(steps), 'board')}"
