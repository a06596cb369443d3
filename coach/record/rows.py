"""What the record holds, row by row: events, batches, and how far a batch is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NamedTuple

from coach.ground.errors import CoachError
from coach.ground.names import clean_text
from coach.record.chain import seal, snapshot_sum
from coach.record.json_text import quick_json, shown
from coach.record.moments import is_moment

_TOO_MANY = 10**12  # of anything that is counted

Text = tuple[int, str, str, str]
"""An event as it is stored: number, time, kind, and data as JSON in a line."""
NewEvent = tuple[str, Mapping[str, Any]]
"""The kind and the data of an event that is yet to be written; the data is what JSON can hold."""


def now() -> datetime:
    """The present moment with the local offset."""
    return datetime.now(UTC).astimezone()


class Stale(CoachError):  # noqa: N818 - it is no fault: the caller reads on and tries again
    """Another window has written to this batch meanwhile: read what it wrote, then try again."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to a batch.

    Attributes:
        number: from 1, the next of its batch, unique within it.
        at: ISO 8601 with milliseconds and offset.
        kind: what happened.
        data: the particulars, as JSON holds them.
    """

    number: int
    at: str
    kind: str
    data: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Tally:
    """How far a batch is. It follows from the events and is kept beside the batch so that lists are quick.

    Attributes:
        cuts: in the whole batch.
        cuts_done: of those.
        steps_left: -1 if not known.
        finished: nothing is left to do.
    """

    cuts: int
    cuts_done: int
    steps_left: int
    finished: bool


@dataclass(frozen=True, slots=True)
class BatchRow:
    """A batch as lists show it; times as in `Event`, the rest as in `Tally`.

    Attributes:
        id: of the batch in this record.
        name: unique in this record.
        started: when.
        last: when its latest event was written.
        events: how many it has.
        fault: what is wrong with its row, as far as that can be seen; the rest then says nothing, and the name is as it
            can be shown.
    """

    id: int
    name: str
    started: str
    last: str
    cuts: int
    cuts_done: int
    steps_left: int
    finished: bool
    events: int
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Leftover:
    """An event that a recovery could read but not count, and why."""

    why: str
    event: Event


def leftover(why: object, number: object, at: object, kind: object, data: object) -> Leftover:
    """A row of what a recovery has kept, whatever it holds: nobody vouches for it any more."""
    try:
        found = quick_json(data) if isinstance(data, str) else {}
    except ValueError:
        found = {}
    reason = why if isinstance(why, str) and why.isprintable() else shown(why)
    place = number if type(number) is int and 0 < number < _TOO_MANY else 0
    return Leftover(
        reason, Event(place, at if isinstance(at, str) else "", kind if isinstance(kind, str) else "", found)
    )


def batch_row(row: Sequence[Any]) -> BatchRow:
    """A row of the table of batches, looked at: id, the columns of `coach.record.chain.SEALED_COLUMNS`, seal."""
    number, *sealed, stored = row
    name, started, last, cuts, cuts_done, steps_left, finished, events, _ = sealed
    fault = _fault_of(sealed, stored)
    if fault:
        return BatchRow(number, shown(name).strip("'"), "", "", 0, 0, -1, finished=False, events=0, fault=fault)
    return BatchRow(number, name, started, last, cuts, cuts_done, steps_left, bool(finished), events)


def _fault_of(sealed: Sequence[Any], stored: object) -> str:
    name, started, last, cuts, cuts_done, steps_left, finished, events, link = sealed
    if type(name) is not str or clean_text(name) is not None:
        return "its name is none"
    for what, value in (("when it was started", started), ("when it was last worked on", last)):
        if not is_moment(value):
            return f"{what} is no time: {shown(value)}"
    for value in (cuts, cuts_done, steps_left + 1 if type(steps_left) is int else steps_left, finished, events):
        if type(value) is not int or not 0 <= value < _TOO_MANY:
            return "how far it is can't be read"
    if type(link) is not str or seal(*sealed) != stored:
        return "its row is not what was written"
    return ""


EVERY = 1000
"""After how many events a snapshot is taken; the one before it is kept as well."""


class Snapshot(NamedTuple):
    """A snapshot as it is stored: after which event, that event's link, and what it says, as JSON."""

    number: int
    link: str
    data: str
    sum: str

    def is_whole(self) -> bool:
        """Whether it is as it was written."""
        return self.sum == snapshot_sum(self.number, self.link, self.data)
