"""What boards and the sides of their tails are called."""

from __future__ import annotations

from coach.ground.terms import Side
from coach.plan.walking.walker import Walker


def side_words(side: Side) -> str:
    """A side of a tail, without its board."""
    return f"end {side.end}, tail {side.tail}, {side.faces} side"


def board_name(walker: Walker, number: int) -> str:
    """A board's label, with its hand and whether it is a spare."""
    board = walker.job.board(number)
    hand = walker.job.patterns[board.pattern].hand
    notes = [note for note in (hand, "spare" if board.spare else None) if note]
    return f"{board.label} ({', '.join(notes)})" if notes else board.label
