"""How far a batch is, by cuts and by boards, in as many words as there is room for."""

from __future__ import annotations

from typing import NamedTuple

from textual.content import Content

from coach.plan.walking.walker import Walker
from coach.telling.phrases import counted
from coach.tui.paint import bar
from coach.tui.walk.sharing import longest_that_fits

LEAST_BAR = 7
"""A bar of fewer cells says less than the words for which it would have to make room."""


class _Line(NamedTuple):
    """A line of progress.

    Attributes:
        notes: what may stand beside its name and bar, the best first.
        alone: what may stand there in place of name, bar and note, the best first.
    """

    name: str
    done: int
    whole: int
    notes: tuple[str, ...]
    alone: tuple[str, ...]


def progress_lines(walker: Walker, columns: int, *, plain: bool, left_words: str = "") -> list[Content]:
    """At this setting first, then in the batch, with bars where they leave all words their room.

    Args:
        left_words: how long the rest will take.
    """
    setting = walker.fence.setting
    if not walker.cuts_left_in_all:
        lines = [_at_the_bench(walker)]
    elif setting is None:
        lines = [_in_the_batch(walker, left_words)]
    else:
        lines = [_at_setting(walker, setting), _in_the_batch(walker, left_words)]
    name = max(len(line.name) for line in lines) + 2
    room = columns - name - LEAST_BAR - 2
    notes = [next((note for note in line.notes if len(note) <= room), None) for line in lines]
    cells = columns - name - max(len(note or "") for note in notes) - 2
    if None in notes:
        return [Content(longest_that_fits(line.alone, columns)) for line in lines]
    return [
        Content.assemble(
            (line.name.ljust(name), "bold"),
            (bar(line.done, line.whole, cells, plain=plain), "$primary"),
            f"  {note}",
        )
        for line, note in zip(lines, notes, strict=True)
    ]


def _at_setting(walker: Walker, setting: int) -> _Line:
    whole, left = walker.cuts_at(setting), walker.cuts_left(setting)
    short = f"Setting {setting + 1}"
    name = f"{short} of {len(walker.settings.fence_mm)}"
    if not left:
        stop = "all cut: a good place to stop"
        return _Line(name, whole, whole, (stop,), (f"{name}: {stop}", f"{short} cut: a good place to stop"))
    still = f"{counted(left, 'cut')} left, {counted(walker.boards_left(setting), 'board')}"
    return _Line(name, whole - left, whole, (still,), (f"{name}: {still}", f"{short}: {still}"))


def _in_the_batch(walker: Walker, left_words: str) -> _Line:
    whole = walker.cuts_in_all
    done = whole - walker.cuts_left_in_all
    numbers = [board.number for board in walker.job.boards if board.number not in walker.out]
    boards_done = sum(1 for number in numbers if not walker.board_cuts_left(number))
    cuts_said, cuts = f"{done} of {whole} cuts done", f"{done}/{whole} cuts"
    said = f"{cuts_said}, {boards_done} of {len(numbers)} boards"
    timed = tuple(f"{words}, {left_words}" for words in (said, cuts_said, cuts)) if left_words else ()
    notes = (*timed, said, f"{cuts}, {boards_done}/{len(numbers)} boards", cuts)
    beside = (*timed[:2], f"{done} of {whole} cuts, {left_words}", f"{cuts}, {left_words}") if left_words else (said,)
    return _Line("Batch", done, whole, beside, tuple(f"Batch: {words}" for words in notes))


def _at_the_bench(walker: Walker) -> _Line:
    whole = walker.steps_at_bench
    done = whole - walker.steps_at_bench_left
    said = f"{done} of {whole} steps done"
    return _Line(
        "Bench", done, whole, (f"{said}, no cut is left",), (f"Bench: {said}, no cut is left", f"Bench: {said}")
    )
