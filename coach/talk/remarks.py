"""What is said of a key or a line: that it did something, that it didn't, and how to come back."""

from __future__ import annotations

import shlex

from coach.errors import CoachError
from coach.plan.steps import Step
from coach.plan.walker import Walker
from coach.record.events import ADD, ASIDE, BOARD_FIRST, DROP, LABEL, SETTING_FIRST, SKIP, SPOIL, TAKE_UP
from coach.record.session import Session
from coach.record.store import Event, Stale
from coach.sheets.saying import Saying
from coach.sheets.step_words import briefly

NOTHING_CHANGED = "Nothing was changed."
NOT_A_SCRAP_CUT = "Only a scrap cut is measured; this step is not one."


def taken_back(walker: Walker, step: Step | None, saying: Saying) -> str:
    """What `step`, which undo has taken back, was."""
    return "Nothing to take back." if step is None else f"Taken back: {briefly(walker, step, saying)}."


_CHANGES = {
    SPOIL: "{board} isn't spoiled",
    DROP: "{board} isn't left out",
    LABEL: "{board} has its old label",
    ADD: "the boards that were added are gone",
    ASIDE: "{board} isn't put aside",
    TAKE_UP: "{board} is put aside again",
    SKIP: "{board} isn't skipped",
    BOARD_FIRST: "{board} doesn't come first",
    SETTING_FIRST: "no setting comes first",
}


def change_taken_back(event: Event) -> str:
    """What is so again once a change has been taken back."""
    return f"Taken back: {_CHANGES[event.kind].format(board=event.data.get('board', ''))}."


def refused(error: CoachError) -> str:
    """Why nothing was recorded."""
    if isinstance(error, Stale):
        return "Another window was quicker: this one has caught up, and nothing was counted twice."
    return f"Not recorded: {error}"


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
    return f"{session.name}: {done} of {whole} cuts are done, and all of it is saved."


def carry_on(name: str) -> str:
    """The command that carries the batch of that name on."""
    return f"coach run --batch {shlex.quote(name)}"
