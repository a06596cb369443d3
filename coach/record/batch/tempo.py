"""How fast the person cuts, from the batch's own events, and how long the cuts that are left will take like that."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from itertools import groupby

from coach.plan.steps import StepKind
from coach.plan.walking.walker import Walker
from coach.record.batch.taking_back import undone_numbers
from coach.record.kinds import STEP_KINDS, UNDO
from coach.record.rows import Event

LATEST_CUTS, LATEST_MOVES = 50, 10
"""How many of the latest count: a person gets quicker over a batch, and slower over a day."""
MOST_READ = 1000
"""How far back among the events they are looked for."""
LEAST_CUTS = 10
"""With fewer cuts than this nothing is said."""
LONGEST = timedelta(minutes=10)
"""What took longer, cut by cut, was a break."""
ROUNDED_TO = ((10, 1), (60, 5), (300, 15))
"""Up to how many minutes an estimate is rounded to how many."""
MOST_OVER_MEDIAN = 4.0
"""No cut or move counts for more than this times the median, so that one long look at the saw doesn't rule the rest."""


class Tempo:
    """Reads a batch's events as they come. The batch alone counts: another has other boards."""

    def __init__(self) -> None:
        self._start_anew()

    def _start_anew(self) -> None:
        self._read = 0
        self._before: datetime | None = None
        self._cuts: deque[float] = deque(maxlen=LATEST_CUTS)
        self._moves: deque[float] = deque(maxlen=LATEST_MOVES)

    def read(self, events: Sequence[Event]) -> None:
        """Takes in what is new in `events`, all of a batch; at first, and after an undo, the latest of them."""
        fresh = events[max(self._read, len(events) - MOST_READ) :]
        undone: set[int] = set()
        if len(events) < self._read or any(event.kind == UNDO for event in fresh):
            self._start_anew()
            fresh = events[max(0, len(events) - MOST_READ) :]
            undone = undone_numbers(fresh)
        self._read = len(events)
        standing = (event for event in fresh if event.number not in undone and event.kind != UNDO)
        for at, together in groupby(standing, key=lambda event: event.at):
            self._take(datetime.fromisoformat(at), list(together))

    def _take(self, at: datetime, together: list[Event]) -> None:
        """Events that bear the same time: one key's, which share the time since the step before."""
        kinds = [event.kind for event in together]
        before, self._before = self._before, at
        if before is None or not any(kind in STEP_KINDS for kind in kinds):
            return
        cuts = kinds.count(StepKind.CUT)
        each = (at - before) / max(1, cuts)
        if not timedelta(0) <= each <= LONGEST:
            return
        if cuts:
            self._cuts.extend([each.total_seconds()] * min(cuts, LATEST_CUTS))
        elif StepKind.SET_FENCE in kinds:
            self._moves.append(each.total_seconds())

    def seconds_left(self, walker: Walker) -> float | None:
        """How long the cuts that are left will take, with the fence moves between them; None if that can't be said.

        It can't before ten cuts, nor by a clock that stands.
        """
        if len(self._cuts) < LEAST_CUTS or not walker.cuts_left_in_all:
            return None
        standing = walker.fence.setting if walker.fence.confirmed else None
        moves = sum(
            walker.cuts_left(setting) > 0 and setting != standing for setting in range(len(walker.settings.fence_mm))
        )
        left = walker.cuts_left_in_all * _usual(self._cuts) + moves * _usual(self._moves)
        return left or None


def _usual(seconds: Iterable[float]) -> float:
    """The mean, with no value counted for more than a few times the median; 0 of none."""
    values = sorted(seconds)
    if not values:
        return 0.0
    most = MOST_OVER_MEDIAN * values[len(values) // 2]
    return sum(min(value, most) for value in values) / len(values)


def left_words(seconds: float | None) -> str:
    """`about 25 min left at your pace`, rounded as an estimate is; nothing for None."""
    if seconds is None:
        return ""
    return f"about {_rounded(seconds / 60)} left at your pace"


def _rounded(minutes: float) -> str:
    """To a minute up to ten, to five up to an hour, to a quarter up to five hours, else to an hour."""
    step = next((step for most, step in ROUNDED_TO if minutes < most), 60)
    whole = max(1, step * round(minutes / step))
    hours, rest = divmod(whole, 60)
    return " ".join(filter(None, (f"{hours} h" if hours else "", f"{rest} min" if rest else "")))
