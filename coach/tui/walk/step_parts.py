"""What to do at a step, in several sizes each: what must be right is as large as can be."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import groupby

from textual.content import Content

from coach.plan.steps import Step
from coach.plan.walking.walker import Walker
from coach.telling.naming import board_name, side_words
from coach.telling.phrases import TURN_WORDS
from coach.telling.steps.step import Told
from coach.tui.drawing.glyphs import COMPACT, DOUBLE, FORMS, SINGLE, Form, large, render
from coach.tui.drawing.turns import PICTURE_COLUMNS, large_words, turn_picture
from coach.tui.walk.sharing import BETWEEN, beside, wrapped

LABEL = "bold $primary"
TURN = "bold $accent"
APART = 4
"""Blank columns between large things that stand side by side, where there is room."""
STRETCH_COLUMNS = 77
"""What a cut of a stretch takes on one line."""

_REST = re.compile(r"(.+) ([+-] [0-9.]+)")
"""A reading between two graduations, and what is left over beside the nearest."""


def headline(kind: str, words: str, columns: int) -> list[Content]:
    """What kind of step it is, and what to do."""
    said = Content.assemble((f" {kind.upper()} ", "bold reverse $primary"), " ", (words, LABEL))
    return said.wrap(columns)


def in_large(text: str, columns: int, rows: int, *, plain: bool, style: str = LABEL) -> list[Content]:
    """`text` as large as it fits; nothing if it can't be large."""
    return _styled(large(text, columns, rows, plain=plain), style)


def large_reading(reading: str, columns: int, rows: int, *, plain: bool) -> list[Content]:
    """A reading as large as it fits, and with it what is to be added or taken off beside the nearest graduation.

    If the rest can't be large as well, it stands in bold beside the reading or below it; without room for either
    there is nothing.
    """
    found = _REST.fullmatch(reading)
    if found is None:
        return in_large(reading, columns, rows, plain=plain)
    main, rest = found[1], found[2]
    for form in FORMS:
        for lines in (
            _styled(render(reading, form, plain=plain)),
            *(_one_and_other(main, form, rest, smaller, columns, plain) for smaller in _not_larger(form)),
            *([] if form.across > 1 else _one_and_bold(main, form, rest, columns, plain)),
        ):
            if lines and len(lines) <= rows and max(line.cell_length for line in lines) <= columns:
                return lines
    return []


def _not_larger(form: Form) -> Iterator[Form]:
    """The forms in which a rest may stand by a reading in `form`; a compact one beside the larger ones looks lost."""
    return (other for other in FORMS if form >= other and (other != COMPACT or form in (SINGLE, COMPACT)))


def _styled(rows: tuple[str, ...] | None, style: str = LABEL) -> list[Content]:
    return list(_all_styled(rows, style)) if rows else []


@lru_cache(maxsize=128)
def _all_styled(rows: tuple[str, ...], style: str) -> tuple[Content, ...]:
    return tuple(Content.styled(row, style) for row in rows)


def _one_and_other(main: str, form: Form, rest: str, smaller: Form, columns: int, plain: bool) -> list[Content]:
    """The reading in one form and its rest in another, beside it if there is room, else below it."""
    one, other = _styled(render(main, form, plain=plain)), _styled(render(rest, smaller, plain=plain))
    if not one or not other:
        return []
    gap = 2 * form.across
    if one[0].cell_length + gap + other[0].cell_length <= columns:
        return beside(one, [*[Content("")] * (len(one) - len(other)), *other], one[0].cell_length + gap - BETWEEN)
    return [*one, Content(""), *other]


def _one_and_bold(main: str, form: Form, rest: str, columns: int, plain: bool) -> Iterator[list[Content]]:
    """The reading large, its rest in bold."""
    one, other = _styled(render(main, form, plain=plain)), Content.styled(rest, "bold reverse $primary")
    if one and one[0].cell_length + BETWEEN + len(rest) <= columns:
        yield beside(one, [*[Content("")] * (len(one) - 1), other], one[0].cell_length)
    elif one:
        yield [*one, other]


class CutWords:
    """What is said of a cut: how the board gets there, how it must lie then, and what is cut."""

    def __init__(self, walker: Walker, step: Step, told: Told, *, plain: bool) -> None:
        assert step.side is not None and step.face_up is not None
        self._turn, self._lie, self._mark = told.lines
        self._short = self._turn if step.turn is None else f"{TURN_WORDS[step.turn].capitalize()}."
        self._label = walker.job.board(step.side.board).label
        new = step.side.board != walker.in_hand
        self._large = large_words(step.turn, new=new)
        picture = turn_picture(step.turn, step.side.end, step.face_up, taken=new, plain=plain)
        self._picture = _styled(picture, TURN)
        self._plain = plain
        self._wrapped: dict[int, list[Content]] = {}

    def least(self, columns: int) -> list[Content]:
        """All in words, the turn in as few as name it."""
        return [*wrapped(self._short, columns, TURN), *self._checked(columns)]

    def in_words(self, columns: int) -> list[Content]:
        """All in words, with what the turn changes."""
        return [*wrapped(self._turn, columns, TURN), *self._checked(columns)]

    def with_picture(self, columns: int) -> list[Content]:
        """The turn's picture, and the words beside it."""
        right = columns - PICTURE_COLUMNS - BETWEEN
        return beside(self._picture, self.in_words(right), PICTURE_COLUMNS) if right > PICTURE_COLUMNS else []

    def with_large_words(self, columns: int, rows: int) -> list[Content]:
        """The turn's picture, its words large beside it, and everything in words below."""
        room = columns - PICTURE_COLUMNS - BETWEEN
        words = next((words for words in self._said_large() if words[0].cell_length <= room), [])
        lines = [*beside(self._picture, words, PICTURE_COLUMNS), *self.in_words(columns)]
        return lines if words and len(lines) <= rows else []

    def _said_large(self) -> Iterator[list[Content]]:
        """What to do as high as the picture, the longer words first, each as wide and then as narrow as it may be."""
        for words in self._large:
            for form in (DOUBLE, SINGLE):
                lines = _styled(render(words, form, plain=self._plain), TURN)
                yield lines

    def band(self, columns: int) -> list[Content]:
        """The board's label, the turn's picture and what to do in a word side by side, all of them large; the picture
        gives way to the label and the word, and a label that can't be large to the other two."""
        rows = len(self._picture)
        said = _styled(render(self._large[-1], SINGLE, plain=self._plain), TURN)
        for parts in ((self._picture, said), (said,)):
            across = sum(part[0].cell_length + BETWEEN for part in parts)
            label = in_large(self._label, columns - across, rows + 1, plain=self._plain)
            if len(label) >= rows:
                apart = min(APART, BETWEEN + (columns - across - label[0].cell_length) // len(parts))
                return _side_by_side((label, *parts), apart)
        return _side_by_side((self._picture, said), APART)

    def _checked(self, columns: int) -> list[Content]:
        """What must be visible before the saw runs, with the board's label if that takes no more rows, and the mark."""
        if columns not in self._wrapped:
            named, unnamed = (
                Content.assemble(("Check", TURN), (f"{label}: {self._lie}", "bold")).wrap(columns)
                for label in (f" {self._label}", "")
            )
            check = named if len(named) <= len(unnamed) else unnamed
            self._wrapped[columns] = [*check, *wrapped(self._mark, columns)]
        return self._wrapped[columns]


def _side_by_side(parts: Sequence[Sequence[Content]], apart: int) -> list[Content]:
    """Large things beside one another, so many blank columns apart."""
    lines, across = list(parts[0]), parts[0][0].cell_length
    for part in parts[1:]:
        lines = beside(lines, part, across + apart - BETWEEN)
        across += apart + max(line.cell_length for line in part)
    return lines


def stretch_lines(walker: Walker, steps: Sequence[Step], columns: int, rows: int) -> list[Content]:
    """The cuts that one key stands for, board by board, as many as fit into `rows`, and how many more there are."""
    boards = len({step.side.board for step in steps if step.side is not None})
    lines: list[Content] = []
    shown = 0
    for number, cuts in groupby(steps, key=lambda step: step.side.board if step.side is not None else 0):
        heading = [] if boards == 1 else wrapped(board_name(walker, number), columns, LABEL)
        new = number != walker.in_hand
        for place, step in enumerate(cuts):
            group = [*(heading if place == 0 else []), *_stretch_row(step, shown + 1, new and place == 0, columns)]
            more = shown + 1 < len(steps)
            if len(lines) + len(group) + more > rows:
                return [*lines, Content.styled(f"and {len(steps) - shown} more", "bold")][: max(0, rows)]
            lines += group
            shown += 1
    return lines


def _stretch_row(step: Step, number: int, new: bool, columns: int) -> list[Content]:
    """A cut of a stretch: its turn, its side and how the board must lie."""
    assert step.side is not None and step.edge is not None and step.face_up is not None
    turn = large_words(step.turn, new=False)[0].lower()
    if new:
        turn = "new" if step.turn is None else f"new, {turn}"
    side = side_words(step.side)
    lie = f"{step.edge.upper()} edge at jig, {step.face_up.upper()} up"
    if columns >= STRETCH_COLUMNS:
        return [Content.assemble(f"{number:>3} ", (f"{turn:<14}", TURN), f"{side:<29}", (lie, "bold"))]
    return Content.assemble(f"{number} ", (f"{turn}: ", TURN), f"{side}; ", (lie, "bold")).wrap(columns)
