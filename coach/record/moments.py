"""Times in the record: what counts as one, and when the computer's clock is plainly wrong.

Times are for people: order comes from the numbers of events and rows, never from times.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from coach.ground.errors import CoachError

RELEASED = datetime(2026, 11, 1, tzinfo=UTC)
"""No clock that is right shows an earlier time to this program."""
SET_BACK = timedelta(minutes=1)
"""By how much a clock may be corrected while nobody looks."""

# An offset has seconds where a place still went by its own noon, as some did when the epoch began.
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{3}|\.\d{6})?(Z|[+-]\d\d:\d\d(:\d\d(\.\d{6})?)?)", re.ASCII)
_FIRST_YEAR, _LAST_YEAR = 2, 9998  # any offset can be taken off a time between them


def is_moment(text: object) -> bool:
    """Whether `text` is a time as the record keeps it: ISO 8601 with seconds and offset, in the years 2 to 9998."""
    if not isinstance(text, str) or not _MOMENT.fullmatch(text):
        return False
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return False
    return _FIRST_YEAR <= moment.year <= _LAST_YEAR


def written(moment: datetime) -> str:
    """A moment with an offset, as the record keeps it; whatever this gives `is_moment` takes.

    Raises:
        CoachError: the clock says a year that can't be kept.
    """
    text = moment.isoformat(timespec="milliseconds")
    if not is_moment(text):
        raise CoachError(
            f"the computer's clock says {text}; expected a year from {_FIRST_YEAR} to {_LAST_YEAR}; "
            "nothing was written: set the clock and try again"
        )
    return text


def clock_doubt(now: datetime, last: datetime) -> str | None:
    """What is plainly wrong with a clock that says `now`, when the latest event was written at `last`; None if nothing
    is."""
    if now < RELEASED:
        return (
            f"The computer's clock says {_said(now)}, before this program was made: it must be wrong. The order of the "
            "record doesn't depend on it; times in the log will be wrong until it is set."
        )
    if now < last - SET_BACK:
        return (
            f"The computer's clock says {_said(now)}, before this batch's latest entry ({_said(last)}): it is or was "
            "wrong. The order of the record doesn't depend on it."
        )
    return None


def _said(moment: datetime) -> str:
    return f"{moment.year:04}{moment:-%m-%d %H:%M}"
