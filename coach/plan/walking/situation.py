"""All that a plan depends on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coach.ground.terms import End, Lie, Side
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.plan.steps import OVER, StepKind
from coach.plan.walking.alike_ends import first_topics


@dataclass(frozen=True, slots=True)
class FenceState:
    """Where the fence is.

    Attributes:
        setting: index of the setting that it stands at, None before the first.
        at_mm: where it really stands as far as is known (F), None before the first setting.
        confirmed: whether it can be relied on to stand there.
        check_due: whether a scrap cut has to be measured before wood is cut.
        offset_mm: what scrap cuts have shown must be added to every reading.
        worked: whether a board has been cut at that setting, so that the stack has begun to turn over.
    """

    setting: int | None = None
    at_mm: float | None = None
    confirmed: bool = False
    check_due: bool = True
    offset_mm: float = 0.0
    worked: bool = False


@dataclass(frozen=True, slots=True)
class Situation:
    """A batch at one moment.

    Attributes:
        settings: decided once, when the batch starts.
        done: the sides that are cut.
        fence: where it stands, and whether that is confirmed.
        lies: how each board was put down, told as for the fence in use; a board that was never picked up isn't in it.
        order: the order in which the boards lie, by number.
        unprepared: the topics still to be prepared.
        benched: the steps at the bench that are done, as (kind, board, end).
        out: boards that are spoiled or dropped; nothing more is done to them.
        aside: boards put aside: they come when no other has a cut left.
        board_first, setting_first: what the person wants done before anything else, while it has cuts left.
    """

    job: Job
    settings: Settings
    done: frozenset[Side]
    fence: FenceState
    lies: Mapping[int, Lie]
    order: tuple[int, ...]
    unprepared: tuple[str, ...]
    benched: frozenset[tuple[StepKind, int, End]]
    out: frozenset[int] = frozenset()
    aside: frozenset[int] = frozenset()
    board_first: int | None = None
    setting_first: int | None = None


def beginning(job: Job, settings: Settings, topics: Sequence[str] | None = None) -> Situation:
    """A batch of which nothing is done; `topics` are prepared before the first setting, by default all there are."""
    return Situation(
        job,
        settings,
        done=frozenset(),
        fence=FenceState(),
        lies={},
        order=tuple(board.number for board in job.boards),
        unprepared=(*(first_topics(job) if topics is None else topics), OVER),
        benched=frozenset(),
    )
