"""What stands on the walk's screen, fitted to the window: what matters first, the rest where there is room."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import NamedTuple

from rich.cells import cell_len
from textual.content import Content

from coach.plan.steps import Step
from coach.record.batch.session import Session
from coach.telling.phrases import SAMPLE_SHOP, Saying
from coach.tui import paint
from coach.tui.walk.parts import ORDER, Parts
from coach.tui.walk.progress import progress_lines
from coach.tui.walk.sharing import Page, wrapped

LEAST_COLUMNS, LEAST_ROWS = 40, 15
MOST_RECENT = 12
LEAST_SAID = 2
"""Enough for what is said of a key that isn't counted."""
ROWS_OF_A_STEP = 12
"""Title, keys, the gravest reminder and what is to be done, in the narrowest window."""


class Window(NamedTuple):
    """The room there is, and how it may be filled."""

    columns: int
    rows: int
    plain: bool

    @property
    def too_small(self) -> bool:
        """Whether the walk can't be shown in it."""
        return self.columns < LEAST_COLUMNS or self.rows < LEAST_ROWS


def title_line(session: Session, window: Window) -> Content:
    """The batch's name, and whether the shop is only the sample."""
    title = Content.styled(session.name, "bold")
    if session.job.shop.sample:
        wide = cell_len(session.name) + len(SAMPLE_SHOP) + 5 <= window.columns
        title = Content.assemble((SAMPLE_SHOP if wide else "Sample shop", "italic"), "   ", title)
    return paint.spelled(title) if window.plain else title


def too_small_words(window: Window) -> list[Content]:
    """What size is needed, in lines that the window can show."""
    words = (
        f"The walk needs at least {LEAST_COLUMNS} columns by {LEAST_ROWS} rows; this window has "
        f"{window.columns} by {window.rows}. Make it larger, and the walk goes on where it was."
    )
    return [Content(line) for line in textwrap.wrap(words, max(1, window.columns - 2))]


def body(
    session: Session,
    steps: Sequence[Step],
    saying: Saying,
    said: str,
    window: Window,
    *,
    left_words: str = "",
    done_key: str = "space",
) -> list[Content]:
    """Everything between the title and the keys: reminders, what to do, the drawing, progress, what was done last.

    Returns:
        a line for each row.

    Args:
        steps: what the next key completes, from the step to do now; none when the batch is done.
        said: what is said of the latest key.
        left_words: how long the rest will take, if that can be said.
        done_key: the key that completes a step, as it is called.
    """
    columns, rows = window.columns - 2, window.rows - 2
    walker = session.walker
    parts = Parts(session, steps, saying, columns, plain=window.plain, done_key=done_key)
    least = parts.least()
    needed = sum(map(len, least.values()))
    said_lines = _said(said, columns, rows - needed) or [Content("")] * (needed < rows)
    page = Page(rows - len(said_lines), ORDER)
    for part, lines in least.items():
        page.put(part, lines)
    progress = progress_lines(walker, columns, plain=window.plain, left_words=left_words)
    page.put("progress", progress[:1])
    parts.grow(page, progress)
    page.improve("progress", progress)
    page.improve(
        "recent",
        paint.recent_lines(walker, session.events, saying, min(page.room("recent"), MOST_RECENT), session.moment()),
    )
    lines = [*page.lines(), *said_lines]
    return [paint.spelled(line) for line in lines] if window.plain else lines


def said_in_whole(said: str, window: Window) -> bool:
    """Whether the walk has room for all of what is said, beside a step."""
    return len(wrapped(said, window.columns - 2)) <= window.rows - ROWS_OF_A_STEP


def _said(said: str, columns: int, room: int) -> list[Content]:
    """What is said of the latest key, never so much that it covers what is to be done."""
    lines = wrapped(said, columns, "bold $accent")
    room = max(LEAST_SAID, room)
    if len(lines) <= room:
        return lines
    shown = lines[:room]
    shown[-1] = Content.styled(f"{shown[-1].plain[: columns - 2].rstrip()} …", "bold $accent")
    return shown
