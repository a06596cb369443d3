"""A batch's events, of which only the latest are read at first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import overload

from coach.record.rows import Event


class Past(Sequence[Event]):
    """All events of a batch in order; the earlier ones are read when something asks for them.

    Args:
        latest: those after number `before`.
        earlier: reads those up to `before`.
    """

    def __init__(self, latest: Iterable[Event], before: int, earlier: Callable[[], Iterable[Event]]) -> None:
        self._latest = list(latest)
        self._before = before
        self._earlier = earlier

    @property
    def at_hand(self) -> list[Event]:
        """The latest events, as far as they are read."""
        return self._latest

    def add(self, events: Iterable[Event]) -> None:
        """Events that have come."""
        self._latest += events

    def _all(self) -> list[Event]:
        if self._before:
            self._latest[:0] = self._earlier()
            self._before = 0
        return self._latest

    def __len__(self) -> int:
        return self._before + len(self._latest)

    @overload
    def __getitem__(self, index: int) -> Event: ...
    @overload
    def __getitem__(self, index: slice) -> list[Event]: ...
    def __getitem__(self, index: int | slice) -> Event | list[Event]:
        """An event, or several, counted from 0 as in a list."""
        if isinstance(index, slice):
            start, stop, step = index.indices(len(self))
            if step == 1 and start >= self._before:
                return self._latest[start - self._before : max(start, stop) - self._before]
            return self._all()[index]
        place = index + len(self) if index < 0 else index
        if self._before <= place < len(self):
            return self._latest[place - self._before]
        return self._all()[index]

    def __iter__(self) -> Iterator[Event]:
        return iter(self._all())

    def __reversed__(self) -> Iterator[Event]:
        """From the latest on; the earlier ones are only read if it comes to them."""
        before = self._before
        yield from reversed(self._latest)
        if before:
            yield from reversed(self._all()[:before])

    def __eq__(self, other: object) -> bool:
        return list(self) == list(other) if isinstance(other, Sequence) else NotImplemented

    __hash__ = None  # type: ignore[assignment]
