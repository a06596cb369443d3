"""What is said of a key or a line: that it did something, that it didn't, and how to come back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from coach.ground.clean import batch_option, shell_word
from coach.ground.errors import CoachError
from coach.plan.steps import StepKind
from coach.plan.walking.walker import Walker
from coach.record.batch.events import step_of
from coach.record.batch.session import Session
from coach.record.disk.refusals import HeldError
from coach.record.kinds import (
    ADD,
    ASIDE,
    BOARD_FIRST,
    DROP,
    LABEL,
    MEND,
    SETTING_FIRST,
    SHOP,
    SKIP,
    SPOIL,
    STEP_KINDS,
    TAKE_UP,
    UNDO,
    WRONG,
)
from coach.record.rows import Event, Stale
from coach.talk.called import called
from coach.talk.pace import amount
from coach.telling.phrases import Saying
from coach.telling.steps.step import briefly

NOTHING_CHANGED = "Nothing was changed."
NOT_A_SCRAP_CUT = "Only a scrap cut is measured; this step is not one."


def taken_back(walker: Walker, events: Sequence[Event], saying: Saying) -> str:
    """What `events`, which undo has taken back, the latest first, were, and what is so again."""
    if not events:
        return "Nothing to take back."
    steps = [step_of(event) for event in events if event.kind in STEP_KINDS]
    if len(steps) == 1 == len(events):
        return f"Taken back: {briefly(walker, steps[0], saying)}."
    if len(steps) == len(events):
        return f"Taken back: {amount(steps)}, all that the last key had completed."
    said = [_CHANGES[event.kind](walker, event) for event in reversed(events) if event.kind in _CHANGES]
    return f"Taken back: {'; '.join(dict.fromkeys(filter(None, said)))}."


def _wrong_again(_walker: Walker, event: Event) -> str:
    data = event.data
    return f"what was said of {data['board']}, end {data['end']}, tail {data['tail']}, {data['faces']} side"


def _spoiled_again(walker: Walker, event: Event) -> str:
    spare = event.data["spare"]
    board = f"{event.data['board']} isn't spoiled"
    return board if spare is None else f"{board}, {walker.job.board(spare).label} is a spare again"


def _asked_again(walker: Walker, event: Event) -> str:
    del walker
    return "the cut stands again" if event.data["of"] == StepKind.CUT else ""


_CHANGES: Mapping[str, Callable[[Walker, Event], str]] = {
    WRONG: _wrong_again,
    UNDO: _asked_again,
    SPOIL: _spoiled_again,
    DROP: lambda _, event: f"{event.data['board']} isn't left out",
    LABEL: lambda _, event: f"{event.data['board']} has its old label",
    ADD: lambda *_: "the boards that were added are gone",
    MEND: lambda _, event: f"{event.data['board']}, end {event.data['end']}, has its own marks and baseline",
    ASIDE: lambda _, event: f"{event.data['board']} isn't put aside",
    TAKE_UP: lambda _, event: f"{event.data['board']} is put aside again",
    SKIP: lambda _, event: f"{event.data['board']} isn't skipped",
    BOARD_FIRST: lambda _, event: f"{event.data['board']} doesn't come first",
    SETTING_FIRST: lambda *_: "no setting comes first",
    SHOP: lambda *_: "blade, jig, fence and scale are as they were",
}


def refused(error: CoachError) -> str:
    """Why nothing was recorded."""
    if isinstance(error, Stale):
        return "Another window was quicker: this one has caught up, and nothing was counted twice."
    return f"Not recorded: {error}{'; press the key again' if isinstance(error, HeldError) else ''}"


def doubted(what: str) -> str:
    """Why a key or a line, which `what` names, wasn't counted after a break."""
    return f"That {what} wasn't counted: after a break, or on a new day, the saw comes first."


def measured(walker: Walker, before_mm: float, saying: Saying) -> str:
    """What a measured scrap cut has shown.

    Args:
        before_mm: by how much scrap cuts had corrected the readings before it.
    """
    off = before_mm - walker.fence.offset_mm
    if abs(off) < 0.005:
        return "The scrap is right."
    where = "far from" if off > 0 else "near"
    said = (
        f"The scrap was cut too {where} the edge, by {saying.length(abs(off))} at the fence; "
        "all readings are corrected by it. "
    )
    if walker.fence.confirmed:
        return said + "So little needs no move now."
    assert walker.fence.setting is not None
    fence = walker.job_at(walker.fence.setting).shop.fence
    return said + f"Move the fence {saying.on(fence).move(-off)}."


def farewell(session: Session) -> str:
    """How far the batch is."""
    whole = session.walker.cuts_in_all
    done = whole - session.walker.cuts_left_in_all
    if gone := session.gone():
        return f"{session.name}: {done} of {whole} cuts are done, but {gone}: what is saved of it can't be told."
    return f"{session.name}: {done} of {whole} cuts are done, and all of it is saved."


def carry_on(name: str, options: Sequence[str] = ()) -> str:
    """The command that carries the batch of that name on, as the program was called.

    Args:
        options: what was said on the command line that has to be said again.
    """
    return " ".join([called(), "run", batch_option(name), *map(shell_word, options)])
