"""What the trade and safety say on the way: checks before the first setting, then reminders and procedure by step.

A reminder stands right before the step it is for and says what could go wrong; the procedure says how the step is done.
"""

from __future__ import annotations

from collections.abc import Iterable

from coach.ground.errors import CoachError
from coach.trade import reminder_words as words
from coach.trade.reminder_words import AGAIN, AT_THE_END, MANUAL, TOPICS, Reminder, Signal

__all__ = [
    "AGAIN",
    "AT_THE_END",
    "MANUAL",
    "TOPICS",
    "Reminder",
    "Signal",
    "checklist",
    "cut_habits",
    "procedure",
    "reminders",
    "topic_title",
]


def checklist(topic: str) -> tuple[str, ...]:
    """What must be so at the `prepare` step of `topic`: at most five lines of at most 72 characters.

    Each line says the state that is wanted. Raises CoachError for an unknown topic.
    """
    return words.CHECKLISTS[_known("topic", _kind_of(topic), words.CHECKLISTS)]


def topic_title(topic: str) -> str:
    """The heading of the `prepare` step of `topic`. Raises CoachError for an unknown topic."""
    return words.TITLES[_known("topic", _kind_of(topic), words.TITLES)]


def reminders(
    kind: str,
    *,
    topic: str | None = None,
    backing_out: str = "stopped",
    long_board: bool = False,
    last: bool = False,
) -> tuple[Reminder, ...]:
    """What to have in mind at a step: one or two reminders, the gravest first, each on one line of 78 characters.

    Args:
        kind: of the step, as in the plan: "prepare", "set-fence", "check", "cut", "clear", "transfer",
            "saw-pin" or "fit".
        topic: of a `prepare` step; other steps have none.
        backing_out: the shop's way of drawing back, "stopped" or "as trained".
        long_board: boards overhang the table, so that preparing them speaks of support; a cut's is in its procedure.
        last: no step follows, so a NOTICE gives way to how the saw should be left; a graver reminder stays.

    Raises:
        CoachError: for an unknown kind, topic or way of drawing back.
    """
    if kind == "prepare":
        said = words.PREPARE[_known("topic", None if topic is None else _kind_of(topic), words.PREPARE)]
        return (words.LONG_BOARDS, said[0]) if topic == "boards" and long_board else said
    if kind == "cut":
        return words.HANDS, words.DRAWING_BACK[_known("backing_out", backing_out, words.DRAWING_BACK)]
    said = words.BY_KIND[_known("kind of step", kind, ("prepare", "cut", *words.BY_KIND))]
    return (said[0], words.WORK_OVER) if last and said[1].signal is Signal.NOTICE else said


def procedure(kind: str, *, backing_out: str = "stopped", long_board: bool = False) -> tuple[str, ...]:
    """How a step is done at the saw or bench, in order: at most two lines of at most 76 characters.

    Args:
        kind: of the step, as for `reminders`; "prepare" has a checklist instead, so its procedure is empty.
        backing_out: the shop's way of drawing back, "stopped" or "as trained".
        long_board: the board overhangs the table, so that a cut begins with its support.

    Raises:
        CoachError: for an unknown kind or way of drawing back.
    """
    if kind == "prepare":
        return ()
    if kind == "cut":
        start = words.CUT_START_LONG if long_board else words.CUT_START
        return start, words.CUT_END[_known("backing_out", backing_out, words.CUT_END)]
    return words.PROCEDURES[_known("kind of step", kind, ("prepare", "cut", *words.PROCEDURES))]


def cut_habits(backing_out: str, long_board: bool) -> tuple[str, ...]:
    """All that belongs to a good cut, in its order, for a help screen.

    Args:
        backing_out: the shop's way of drawing back, "stopped" or "as trained".
        long_board: with what a board needs that overhangs the table.

    Raises:
        CoachError: for an unknown way of drawing back.
    """
    drawing_back = words.DRAWING_BACK_HABITS[_known("backing_out", backing_out, words.DRAWING_BACK_HABITS)]
    support = ("Rest the far end of a long board on a stand of the table's height.",) if long_board else ()
    return (
        "Let the blade reach full speed before the wood comes near it.",
        "Hold the jig tight to the fence from the first touch to the last.",
        "Seat the board home on the stop and along the jig, with no chips between.",
        *support,
        "Keep both hands out of the blade's line, and reach over nothing that moves.",
        "Feed no faster than the blade cuts; at a regular click, switch off.",
        "Stop when the first corner of the kerf touches the line.",
        *drawing_back,
        "Take chips and offcuts away only while the blade stands.",
        "Press the key only with the hands clear of the blade.",
    )


def _kind_of(topic: str) -> str:
    """The topic without the number of the boards that it is about."""
    return topic.partition(" ")[0]


def _known(what: str, value: str | None, known: Iterable[str]) -> str:
    choices = tuple(known)
    if value is None or value not in choices:
        found = "nothing" if value is None else f'"{value}"'
        raise CoachError(f"{what}: found {found}, expected one of {', '.join(choices)}")
    return value
