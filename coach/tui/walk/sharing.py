"""Shares the rows of a screen among its parts: each has the least that must be seen, and grows where rows are left."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

from rich.cells import cell_len
from textual.content import Content, Span

BETWEEN = 2
"""Blank columns between what stands side by side."""


class Page:
    """So many rows, shared among named parts that stand one below the other."""

    def __init__(self, rows: int, order: Iterable[str]) -> None:
        self.rows = rows
        self._parts: dict[str, Sequence[Content]] = dict.fromkeys(order, ())

    def put(self, part: str, lines: Sequence[Content]) -> None:
        """What a part shows at the least, whether there is room for it or not."""
        self._parts[part] = lines

    def room(self, part: str) -> int:
        """How many rows a part may take: what it has and what is left over, 0 or more."""
        return max(0, len(self._parts[part]) + self._spare)

    @property
    def left(self) -> int:
        """How many rows no part takes."""
        return max(0, self._spare)

    @property
    def _spare(self) -> int:
        """The same, and less than nothing if the least is too much."""
        return self.rows - sum(map(len, self._parts.values()))

    def improve(self, part: str, lines: Sequence[Content]) -> bool:
        """Shows `lines` in a part if there are any and they fit; else leaves it as it is."""
        if not lines or len(lines) > self.room(part):
            return False
        self._parts[part] = lines
        return True

    def lines(self) -> list[Content]:
        """All parts, filled up with blank rows; what is too much is cut off at the end."""
        lines = [line for part in self._parts.values() for line in part]
        return (lines + [Content("")] * self.left)[: self.rows]


def wrapped(text: str, columns: int, style: str = "") -> list[Content]:
    """`text` in lines of at most `columns` cells."""
    return list(_wrapped(text, columns, style))


@lru_cache(maxsize=512)
def _wrapped(text: str, columns: int, style: str) -> tuple[Content, ...]:
    return tuple(Content.styled(text, style).wrap(columns)) if text else ()


def beside(left: Sequence[Content], right: Sequence[Content], columns: int) -> list[Content]:
    """`left`, `columns` cells wide, and `right` beside it, both from the top."""
    blank = Content("")
    rows = max(len(left), len(right))
    pairs = zip([*left, *[blank] * (rows - len(left))], [*right, *[blank] * (rows - len(right))], strict=True)
    return [_beside(one, other, columns) for one, other in pairs]


def _beside(one: Content, other: Content, columns: int) -> Content:
    start = one.plain + " " * (columns - one.cell_length + BETWEEN)
    off = len(start)
    spans = [*one.spans, *(Span(off + span.start, off + span.end, span.style) for span in other.spans)]
    return Content(start + other.plain, spans, strip_control_codes=False)


def longest_that_fits(choices: Iterable[str], columns: int) -> str:
    """The first of `choices` that fits into `columns` cells, else the last."""
    chosen = ""
    for chosen in choices:
        if cell_len(chosen) <= columns:
            break
    return chosen
