"""Proves that events from elsewhere make a batch: their data has the right form, and they fold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from coach.ground.errors import CoachError
from coach.joint.layout import MOST_BOARDS
from coach.plan.settings import one_cut_each
from coach.plan.walking.walker import Walker
from coach.record.batch.events import folding, of_a_newer_coach, refuse_unknown, unknown_kinds
from coach.record.batch.shapes import SHAPES, misfit
from coach.record.batch.taking_back import undone_numbers
from coach.record.json_text import shown
from coach.record.kinds import ADD, KNOWN_KINDS, SETTINGS, START, UNDO
from coach.record.moments import is_moment
from coach.record.rows import Event

FOLD_ERRORS: tuple[type[Exception], ...] = (
    *(CoachError, ArithmeticError, AssertionError, AttributeError, LookupError, TypeError, ValueError),
)
"""What folding may end in where nobody vouches for the events."""


def proven(events: Sequence[Event]) -> Walker:
    """The walk that `events`, all of a batch, lead to.

    Raises:
        CoachError: the data of an event hasn't the form that its kind has; an event speaks of a board, a setting or an
            event that isn't there; they don't fold; a newer coach wrote them.
    """
    for event in events:
        if wrong := misfit(event):
            raise CoachError(f"event {event.number} ({event.kind}): {wrong}")
    refuse_strangers(events)
    return folded(events)


def folded(events: Sequence[Event]) -> Walker:
    """The walk that `events` lead to, though nobody vouches that a coach wrote them; CoachError if they don't fold."""
    return _folded(events, [])


def _folded(events: Sequence[Event], reached: list[int]) -> Walker:
    """As `folded`; the numbers of the events that could be folded are added to `reached`."""
    try:
        refuse_unknown(events)
        course = folding(events)
        number, walker = next(course)
        reached.append(number)
        for number, after in course:
            reached.append(number)
            walker = after
        reached.append(len(events))
        refuse_unserved(walker)
        walker.peek()
    except FOLD_ERRORS as error:
        if isinstance(error, CoachError):
            raise
        # The fold trusts what it is given, and stumbles in as many ways as there are mistakes.
        what = "speak of a side, board or setting that the batch doesn't have" if isinstance(error, LookupError) else ""
        raise CoachError(f"the events {what or 'contradict each other'}") from error
    return walker


def fits(event: Event) -> bool:
    """Whether an event by itself has kind, time and form as they ought to be."""
    return event.kind in KNOWN_KINDS and is_moment(event.at) and misfit(event) is None


class Sense(NamedTuple):
    """How far a batch's events make sense.

    Attributes:
        walker: where they lead that far; None if there is no beginning.
        good: how many events do, from the first on.
        why: what is wrong with the next one, in words; empty if there is none.
        newer: whether there are kinds of events that this program doesn't know, so that it can't tell.
    """

    walker: Walker | None
    good: int
    why: str = ""
    newer: bool = False


def sense_of(events: Sequence[Event]) -> Sense:
    """How far `events`, those of a batch from its first on, make sense: as far as `proven` takes them."""
    good, why = len(events), ""
    if of_a_newer_coach(events):
        kinds = ", ".join(unknown_kinds(events)[:3])
        return Sense(
            None, good, f"it holds events of the kind {kinds}, which a newer coach must have written", newer=True
        )
    for place, event in enumerate(events):
        wrong = misfit(event) if event.kind in KNOWN_KINDS else "that is no kind of entry"
        if not is_moment(event.at):
            wrong = f"its time is none: {shown(event.at)}"
        if wrong:
            good, why = place, f"event {event.number} ({shown(event.kind)}): {wrong}"
            break
    while good >= 2:
        reached: list[int] = []
        try:
            refuse_strangers(events[:good])
            return Sense(_folded(events[:good], reached), good, why)
        except _StrangerError as error:
            good, why = error.number - 1, str(error)
        except CoachError as error:
            wrong_one = _where_wrong(events[:good], max(reached, default=0))
            good, why = wrong_one.number - 1, f"event {wrong_one.number} ({wrong_one.kind}): {error}"
    return Sense(None, 0, why or "the batch has no beginning: its layouts and settings are missing from the record")


def _where_wrong(events: Sequence[Event], done: int) -> Event:
    """The event at which the fold stumbled, whose numbers were taken up to `done`."""
    if done < len(events):
        undone = undone_numbers(events)
        return next(event for event in events[done:] if event.number not in undone)
    # What can't be told to come from one event comes from the latest that says what is to be cut.
    return max((event for event in events if event.kind == SETTINGS or "settings" in event.data), key=_number)


def _number(event: Event) -> int:
    return event.number


class _StrangerError(CoachError):
    """An event speaks of what the batch doesn't have."""

    def __init__(self, problem: str, number: int) -> None:
        super().__init__(problem)
        self.number = number


def refuse_unserved(walker: Walker) -> None:
    """CoachError unless each side of each board has one setting, and no setting two sides for which it lies alike."""
    job, settings = walker.job, walker.settings
    servings = list(zip(job.patterns, settings.serves, strict=True))
    servings += [(job.pattern_of(number), serving) for number, serving in settings.own.items()]
    for pattern, serving in servings:
        if serving.keys() != set(pattern.sides()):
            raise CoachError(f'the settings of part "{pattern.part.label}" serve other sides than it has')
        one_cut_each(job, settings, pattern, serving)


def refuse_strangers(events: Sequence[Event]) -> None:
    """CoachError if an event speaks of boards, settings or events that the batch doesn't have."""
    if [event.kind for event in events[:2]] != [START, SETTINGS]:
        return  # the fold says so
    layouts = events[0].data["layouts"]
    boards = sum(part["boards"] + part["spares"] for layout in layouts for part in layout["parts"])
    if boards > MOST_BOARDS:
        raise _StrangerError(f"event 1: found {boards} boards; expected at most {MOST_BOARDS}", 1)
    settings = rigs = 0
    undone = undone_numbers(events)
    most_boards = boards + sum(len(event.data["boards"]) for event in events if event.kind == ADD)
    decided = (data for event in events for data in (event.data, event.data.get("settings")))
    most_settings = max(len(data["fence_mm"]) for data in decided if isinstance(data, Mapping) and "serves" in data)
    for event in events:
        if "shop" in event.data:
            rigs = len(event.data["shop"]["fences"]) * len(event.data["shop"]["jigs"])
        if event.kind == ADD and event.number not in undone:
            for board in event.data["boards"]:
                boards += 1
                _expect(event, "the number of an added board", board["number"], boards, boards)
        for data in (event.data, event.data.get("settings")):
            if isinstance(data, Mapping) and "serves" in data and event.number not in undone:
                settings = len(data["fence_mm"])
                if data.get("rigs"):
                    _expect(event, "how many rigs there are", len(data["rigs"]), settings, settings)
                    _expect(event, "rig", max(data["rigs"]), 0, rigs - 1)
                served = [*data["serves"], *data.get("own", {}).values()]
                for index in {serving[3] for serving in (pair for serves in served for pair in serves)}:
                    _expect(event, "setting", index, 0, settings - 1)
        if event.number in undone:  # it may speak of what was there only before it was taken back
            settings_then, boards_then = most_settings, most_boards
        else:
            settings_then, boards_then = settings, boards
        if "setting" in SHAPES.get(event.kind, ()):
            _expect(event, "setting", event.data["setting"], 0, settings_then - 1)
        if event.kind == UNDO:
            number = event.data["number"]
            _expect(event, "the number of the event that is taken back", number, 1, event.number - 1)
            if events[number - 1].kind != event.data["of"]:
                raise _StrangerError(
                    f"event {event.number} (undo): found that it takes back event {number} of the kind "
                    f"{shown(event.data['of'])}; expected {events[number - 1].kind}",
                    event.number,
                )
        elif "number" in SHAPES.get(event.kind, ()):
            _expect(event, "the number of a board", event.data["number"], 1, boards_then)
            if event.data.get("spare") is not None:
                _expect(event, "the number of a spare", event.data["spare"], 1, boards_then)


def _expect(event: Event, what: str, found: int, least: int, most: int) -> None:
    if not least <= found <= most:
        expected = str(least) if least == most else f"{least} to {most}"
        problem = f"event {event.number} ({event.kind}): {what}: found {found}; expected {expected}"
        raise _StrangerError(problem, event.number)
