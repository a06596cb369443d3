"""What the record holds, row by row: events, batches, and how far a batch is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from coach.errors import CoachError

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
