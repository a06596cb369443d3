"""The fewest points that meet every one of a set of wants, each of which may be met on one of several lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coach.plan.intervals import NEAR, Interval

Want = tuple[Interval | None, ...]
"""For each line where a point may lie on it, or None if the want can't be met there."""

MOST_BRANCHES = 2_000
"""After so many branches of the search the best cover found so far has to do; real batches take a few dozen."""


def fewest_on_lines(wants: Sequence[Want]) -> list[tuple[int, float]]:
    """The fewest points that meet all `wants`, as (line, place), in order.

    On each line some fewest set uses right ends of intervals alone, so that a set cover over these is exact.

    Args:
        wants: each can be met on one line at least.
    """
    found = list(dict.fromkeys(wants))
    lines = len(found[0]) if found else 0
    meets: dict[int, tuple[int, float]] = {}
    for line in range(lines):
        on_line = {number: interval for number, want in enumerate(found) if (interval := want[line]) is not None}
        for point, mask in _met_at_right_ends(on_line):
            meets.setdefault(mask, (line, point))
    chosen = _Search().fewest((1 << len(found)) - 1, list(meets))
    return sorted(meets[mask] for mask in chosen)


def _met_at_right_ends(intervals: dict[int, Interval]) -> Iterator[tuple[float, int]]:
    """The right ends, ascending, each with the numbers of the intervals that it meets as the bits of a whole number."""
    by_low = sorted((interval.low, number) for number, interval in intervals.items())
    by_high = sorted((interval.high, number) for number, interval in intervals.items())
    mask = begun = ended = 0
    for point in dict.fromkeys(high for high, _ in by_high):
        while begun < len(by_low) and by_low[begun][0] - NEAR <= point:
            mask |= 1 << by_low[begun][1]
            begun += 1
        while by_high[ended][0] + NEAR < point:
            mask &= ~(1 << by_high[ended][1])
            ended += 1
        yield point, mask


class _Search:
    """The fewest of some sets, each the bits of a whole number, that make up a whole.

    What can be told without trying is: of two wants of which one's sets all take the other as well, the other comes by
    itself; of two sets of which one takes no more than the other, that one is never needed. On a single line this
    leaves nothing to try. What is left falls apart into pieces that share no set, in each of which the want with the
    fewest sets is branched on.
    """

    def __init__(self) -> None:
        self._branches = 0

    def fewest(self, todo: int, sets: Sequence[int]) -> list[int]:
        """The fewest of `sets` that make up all of `todo`."""
        whole: dict[int, int] = {}  # by what is left of a set, the set
        for each in sets:
            if each & todo:
                whole.setdefault(each & todo, each)
        left = todo
        while True:
            kept, left = _needed(list(whole), left)
            fewer = {each & left: whole[each] for each in reversed(kept)}
            if len(fewer) == len(whole) and all(each in whole for each in fewer):
                break
            whole = fewer
        return [whole[each] for piece in _pieces(list(whole), left) for each in self._branched(piece)]

    def _branched(self, sets: list[int]) -> list[int]:
        """The fewest of the sets of one piece that make up all of it."""
        if len(sets) == 1:
            return sets
        todo = 0
        for each in sets:
            todo |= each
        options = _options(sets, todo)
        best = _greedy(sets, todo)
        least = _apart(sets, options)
        first = min(options, key=lambda number: (options[number].bit_count(), number))
        for place in sorted(_bits(options[first]), key=lambda place: -sets[place].bit_count()):
            self._branches += 1
            if len(best) == least or self._branches > MOST_BRANCHES:
                break
            found = [sets[place], *self.fewest(todo & ~sets[place], sets)]
            best = found if len(found) < len(best) else best
        return best


def _bits(mask: int) -> Iterator[int]:
    """The places of the bits that are set, ascending."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def _options(sets: Sequence[int], todo: int) -> dict[int, int]:
    """For each want that is left, the places of the sets that take it, as bits."""
    options = dict.fromkeys(_bits(todo), 0)
    for place, each in enumerate(sets):
        for number in _bits(each & todo):
            options[number] |= 1 << place
    return options


def _needed(sets: Sequence[int], todo: int) -> tuple[list[int], int]:
    """Which sets are needed, and which wants don't come by themselves."""
    options = _options(sets, todo)
    for number in sorted(options, key=lambda number: (options[number].bit_count(), number)):
        if todo >> number & 1:
            along = todo
            for place in _bits(options[number]):
                along &= sets[place]
            todo &= ~along | 1 << number
    kept = (1 << len(sets)) - 1
    for place, each in enumerate(sets):
        over = kept
        for number in _bits(each & todo):
            over &= options[number]
        if over & ~(1 << place):
            kept &= ~(1 << place)
    return [sets[place] for place in _bits(kept)], todo


def _pieces(sets: Sequence[int], todo: int) -> list[list[int]]:
    """The sets, parted so that those of two parts have no want in common."""
    pieces: list[tuple[int, list[int]]] = []
    for each in sets:
        takes, members = each & todo, [each]
        apart = []
        for piece in pieces:
            if piece[0] & takes:
                takes |= piece[0]
                members = [*piece[1], *members]
            else:
                apart.append(piece)
        pieces = [*apart, (takes, members)]
    return [members for _, members in pieces]


def _greedy(sets: Sequence[int], todo: int) -> list[int]:
    """Not always the fewest: the set that takes most, again and again."""
    chosen = []
    while todo:
        most = max(sets, key=lambda each: (each & todo).bit_count())
        chosen.append(most)
        todo &= ~most
    return chosen


def _apart(sets: Sequence[int], options: dict[int, int]) -> int:
    """How many wants can be picked one by one so that no two share a set: at least so many sets are needed."""
    count = taken = 0
    for number in sorted(options, key=lambda number: (options[number].bit_count(), number)):
        if not taken >> number & 1:
            count += 1
            for place in _bits(options[number]):
                taken |= sets[place]
    return count
