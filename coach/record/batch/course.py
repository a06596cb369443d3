"""The course of a batch: its walk, and the way back, without folding everything anew.

What stands after some events is the fold of those that aren't taken back. Here that is kept up to date event by event;
going back is exact, since each step says what it changes and each change makes a new walk beside the old one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from coach.plan.walking.walker import Before, Walker
from coach.record.batch.events import apply_event, begun, changed, step_of
from coach.record.kinds import CHANGE_KINDS, RETURN, STEP_KINDS, UNDO
from coach.record.rows import Event

MOST_KEPT = 5000
"""How many events can be gone back behind; further back everything is folded anew."""


class Undos:
    """Which events are taken back, kept up to date as undos come."""

    def __init__(self, pairs: Sequence[tuple[int, int]] = ()) -> None:
        self.pairs = list(pairs)
        self.numbers = self._numbers()

    def take(self, event: Event) -> None:
        """An event comes; only undos matter."""
        if event.kind == UNDO:
            self.pairs.append((event.number, event.data["number"]))
            self.numbers = self._numbers()

    def without_the_latest(self, count: int) -> None:
        """The latest undos are as if they had never come."""
        del self.pairs[len(self.pairs) - count :]
        self.numbers = self._numbers()

    def _numbers(self) -> frozenset[int]:
        undone: set[int] = set()
        for number, of in reversed(self.pairs):
            if number not in undone:
                undone.add(of)
        return frozenset(undone)


class Course:
    """The walk of a batch and what it was before each of its latest events.

    Args:
        walker: the walk after the events up to number `since`; it is gone on with.
        everything: gives all events that are on disk, for where the way back is too long.
    """

    def __init__(self, walker: Walker, since: int, undos: Undos, everything: Callable[[], Sequence[Event]]) -> None:
        self.walker = walker
        self.undos = undos
        self._since = since
        self._all = everything
        self._past: list[tuple[Event, Walker, Before | None]] = []

    def take(self, events: Sequence[Event], known: Sequence[Event]) -> None:
        """Goes on by events that come after all others.

        Args:
            known: the latest events before them, as far as they are at hand, in order.
        """
        before = self.undos.numbers
        for event in events:
            self.undos.take(event)
        other = before ^ self.undos.numbers
        earliest = min((number for number in other if number < events[0].number), default=None) if events else None
        if earliest is not None:
            if not self._back_behind(earliest):
                self._rebuild(events)
                return
            self._go_on_from(earliest, known)
        for event in events:
            self._go_on(event)

    def forget(self, events: Sequence[Event], known: Sequence[Event]) -> None:
        """Goes back to what stood before `take` of the same events, be it that it got only part of the way."""
        before = self.undos.numbers
        self.undos.without_the_latest(sum(event.kind == UNDO for event in events))
        earliest = min([events[0].number, *(before ^ self.undos.numbers)])
        if self._back_behind(earliest):
            self._go_on_from(earliest, known)
        else:
            self._rebuild(())

    def _go_on_from(self, number: int, known: Sequence[Event]) -> None:
        if known:
            for event in known[max(0, number - known[0].number) :]:
                self._go_on(event)

    def _go_on(self, event: Event) -> None:
        if event.number in self.undos.numbers:
            return
        before: Before | None = None
        walker = self.walker
        if event.kind in CHANGE_KINDS:
            self.walker = changed(walker, event)
        elif event.kind == RETURN or event.kind in STEP_KINDS:
            before = walker.before(None if event.kind == RETURN else step_of(event))
            apply_event(walker, event)
        else:
            return
        self._past.append((event, walker, before))
        if len(self._past) > 2 * MOST_KEPT:
            self._since = self._past[MOST_KEPT - 1][0].number
            del self._past[:MOST_KEPT]

    def _back_behind(self, number: int) -> bool:
        """Goes back to what stood before an event; False if that isn't known any more."""
        if number <= self._since:
            return False
        while self._past and self._past[-1][0].number >= number:
            _, walker, before = self._past.pop()
            if before is not None:
                walker.back_to(before)
            self.walker = walker
        return True

    def _rebuild(self, coming: Sequence[Event]) -> None:
        """Folds everything anew, what is just coming included."""
        events = [*self._all(), *coming]
        self.walker, self._since = begun(events), 2
        self._past.clear()
        for event in events[2:]:
            self._go_on(event)
