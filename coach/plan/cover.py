"""The fewest points that meet every one of a set of wants, each of which may be met on one of several lines."""

from __future__ import annotations

from collections.abc import Sequence

from coach.plan.stabbing import Interval

Want = tuple[Interval | None, ...]
"""For each line where a point may lie on it, or None if the want can't be met there."""

MOST_NODES = 50_000
"""After so many branches of the search the best cover found so far has to do; real batches take a few dozen."""


def fewest_on_lines(wants: Sequence[Want]) -> list[tuple[int, float]]:
    """The fewest points that meet all `wants`, as (line, place), in order.

    On each line some fewest set uses right ends of intervals alone, so that a set cover over these is exact. Points
    that meet no more than another are dropped; then the want with the fewest points is branched on, again and again,
    with as many wants as can be picked of which no two share a point as the lower bound.

    Args:
        wants: each can be met on one line at least.
    """
    found = list(dict.fromkeys(wants))
    lines = len(found[0]) if found else 0
    meets: dict[int, tuple[int, float]] = {}
    for line in range(lines):
        on_line = [(number, want[line]) for number, want in enumerate(found)]
        for point in sorted({interval.high for _, interval in on_line if interval is not None}):
            mask = sum(1 << number for number, interval in on_line if interval is not None and interval.holds(point))
            meets.setdefault(mask, (line, point))
    masks = [mask for mask in meets if not any(mask != other and mask & other == mask for other in meets)]
    chosen = _Search(masks).fewest((1 << len(found)) - 1)
    return sorted(meets[mask] for mask in chosen)


class _Search:
    """A branch and bound over sets, each the bits of a whole number."""

    def __init__(self, masks: Sequence[int]) -> None:
        self._masks = sorted(masks, key=lambda mask: (-mask.bit_count(), mask))
        self._best: tuple[int, ...] = ()
        self._nodes = 0

    def fewest(self, todo: int) -> tuple[int, ...]:
        """The fewest of the sets that make up all of `todo`."""
        left, greedy = todo, []
        while left:
            mask = max(self._masks, key=lambda mask: (mask & left).bit_count())
            greedy.append(mask)
            left &= ~mask
        self._best, self._nodes = tuple(greedy), 0
        self._branch(todo, ())
        return self._best

    def _branch(self, todo: int, chosen: tuple[int, ...]) -> None:
        if not todo:
            self._best = chosen if len(chosen) < len(self._best) else self._best
            return
        self._nodes += 1
        if self._nodes > MOST_NODES:
            return
        options = self._options(todo)
        if len(chosen) + self._apart(options) >= len(self._best):
            return
        number = min(options, key=lambda number: (len(options[number]), number))
        for mask in sorted(options[number], key=lambda mask: -(mask & todo).bit_count()):
            self._branch(todo & ~mask, (*chosen, mask))

    def _options(self, todo: int) -> dict[int, list[int]]:
        """Which sets can take each want that is left."""
        numbers = [number for number in range(todo.bit_length()) if todo >> number & 1]
        return {number: [mask for mask in self._masks if mask >> number & 1] for number in numbers}

    def _apart(self, options: dict[int, list[int]]) -> int:
        """How many wants can be picked one by one so that no two share a set: at least so many sets are needed."""
        count, taken = 0, 0
        for number in sorted(options, key=lambda number: (len(options[number]), number)):
            if not taken >> number & 1:
                count += 1
                for mask in options[number]:
                    taken |= mask
        return count
