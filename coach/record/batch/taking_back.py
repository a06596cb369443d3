"""What is taken back: which events stand no longer, and what the latest key or answer wrote.

Every event says in `key` which event was the first that the same key, or the same answer to a question, wrote; so what
belongs together is told by the events, not by their times. Taking back goes from the latest to the first: what one key
or answer wrote is taken back together, and what stands then is what stood before it.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence

from coach.plan.steps import StepKind
from coach.record.kinds import CHANGE_KINDS, STEP_KINDS, UNDO
from coach.record.rows import Event, NewEvent


def undone_numbers(events: Iterable[Event]) -> set[int]:
    """The numbers of the events that later ones take back.

    An undo that belongs to an answer (a cut that went wrong is asked for again) may itself be taken back; what it had
    taken back then stands again.
    """
    undone: set[int] = set()
    for event in reversed([event for event in events if event.kind == UNDO]):
        if event.number not in undone:
            undone.add(event.data["number"])
    return undone


def last_standing(events: Sequence[Event], undone: Container[int]) -> Event | None:
    """The latest step that isn't undone yet."""
    return next((event for event in reversed(events) if event.kind in STEP_KINDS and event.number not in undone), None)


def latest_key(events: Sequence[Event], undone: Container[int]) -> list[Event]:
    """What the latest key or answer wrote and still stands, the latest first; nothing at the beginning.

    Coming back after a break is nobody's doing, and an undo by itself is gone behind, not undone.
    """
    found: list[Event] = []
    for event in reversed(events):
        if event.number in undone or not _can_be_taken_back(event):
            continue
        if found and not _of_one_key(event, found[-1]):
            break
        found.append(event)
    return found


def undo_event(event: Event) -> NewEvent:
    """Takes an event back."""
    return UNDO, {"number": event.number, "of": event.kind}


def _can_be_taken_back(event: Event) -> bool:
    return event.kind in STEP_KINDS or event.kind in CHANGE_KINDS or (event.kind == UNDO and "reason" in event.data)


def _of_one_key(earlier: Event, later: Event) -> bool:
    """Whether two events that follow one another were written by one key or answer."""
    if "key" in earlier.data or "key" in later.data:
        return bool(earlier.data.get("key") == later.data.get("key"))
    # Events did not say so at first. Cuts of one setting that bear the same time were one key's, and so were the events
    # of a change.
    if earlier.at != later.at:
        return False
    if earlier.kind == later.kind == StepKind.CUT:
        return bool(earlier.data["setting"] == later.data["setting"])
    return not (earlier.kind in STEP_KINDS and later.kind in STEP_KINDS)
