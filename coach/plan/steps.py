"""The steps of a batch."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from coach.ground.terms import Edge, End, Face, Side, Turn


class StepKind(StrEnum):
    """What a step is; the same words stand in the record and in JSON."""

    PREPARE = "prepare"
    SET_FENCE = "set-fence"
    CHECK = "check"
    CUT = "cut"
    CLEAR = "clear"
    TRANSFER = "transfer"
    SAW_PIN = "saw-pin"
    FIT = "fit"


BENCH_KINDS = (StepKind.CLEAR, StepKind.TRANSFER, StepKind.SAW_PIN, StepKind.FIT)
"""What follows the saw, in order: each is done at one end of one board."""

FIRST_TOPICS = ("saw", "blade", "guard", "boards", "yourself")
"""What was prepared before a batch's first setting when the record didn't say yet what is."""

ENDS = "ends"
"""What is prepared of boards whose ends are alike: which end is which, and how far the baselines are from them. A
number follows after a blank, from 1."""

RETURN_TOPICS = ("again",)
"""What is prepared on coming back."""

OVER = "over"
"""What is prepared after the last cut, before the bench: the saw is left as it should be."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step. What doesn't belong to its kind is None.

    Attributes:
        topic: of a `prepare`.
        setting: index of the fence setting, from 0.
        fence_mm: of a `set-fence`, where the fence is put (F); None if the record doesn't say, then as it was decided.
        side: what is cut.
        edge: the one that bears on the jig.
        face_up: the face that looks up.
        mark_mm: of a cut, the side's mark as laid out, from the edge that it faces; of a check, where the fence as it
            is set should cut, from the edge at the jig.
        turn: from how the board lay to how it must lie.
        board, end: of a step at the bench.
    """

    kind: StepKind
    topic: str | None = None
    setting: int | None = None
    side: Side | None = None
    edge: Edge | None = None
    face_up: Face | None = None
    mark_mm: float | None = None
    turn: Turn | None = None
    board: int | None = None
    end: End | None = None
    fence_mm: float | None = None
