"""What the walk shows, as styled text: bars, drawing, reminders, settings, recent steps. Nothing is read as markup."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import islice

from textual.content import Content

from coach.plan.steps import StepKind
from coach.plan.walking.walker import Walker
from coach.record.batch.events import step_of
from coach.record.batch.taking_back import undone_numbers
from coach.record.kinds import STEP_KINDS
from coach.record.rows import Event
from coach.talk.signs import SPELLED
from coach.telling.phrases import Saying, reading_at
from coach.telling.steps.step import briefly
from coach.telling.times import time_words


def spelled(content: Content) -> Content:
    """`content` in signs that a terminal without Unicode has; what a person wrote otherwise stays as it is."""
    return Content(content.plain.translate(SPELLED), list(content.spans))


def bar(done: int, whole: int, columns: int, *, plain: bool) -> str:
    """A bar of `columns` cells, filled as far as `done` of `whole`; full only when all is done."""
    filled = columns if done >= whole else min(columns - 1, done * columns // max(whole, 1))
    full, empty = ("#", "-") if plain else ("━", "╌")
    return full * filled + empty * (columns - filled)


def settings_lines(walker: Walker, saying: Saying, now: int | None, rows: int) -> list[Content]:
    """Fence settings with their readings and what is left at each, in at most `rows` lines, 2 or more.

    The one to set now is marked, and among those shown.
    """
    count = len(walker.settings.fence_mm)
    shown = count if count <= rows else rows - 1
    first = 0 if now is None else max(0, min(now - shown // 2, count - shown))
    lines = []
    for index in range(first, first + shown):
        left = walker.cuts_left(index)
        state = "all cut" if not left else f"{left} of {walker.cuts_at(index)} cuts left"
        line = f"{'>' if index == now else ' '} setting {index + 1:<3} {reading_at(walker, index, saying):<20} {state}"
        lines.append(Content.styled(line, "bold" if index == now else "$quiet"))
    if count > shown:
        lines.append(Content.styled(f"  {count - shown} more", "$quiet"))
    return lines


def recent_lines(walker: Walker, events: Sequence[Event], saying: Saying, rows: int, now: datetime) -> list[Content]:
    """The last few steps that stand, the latest first, with the day where it isn't today."""
    undone = undone_numbers(events[-200:])
    standing = (event for event in reversed(events) if event.kind in STEP_KINDS and event.number not in undone)
    return [
        Content.styled(f"{time_words(event.at, now, seconds=True)}  {_done_words(walker, event, saying)}", "$quiet")
        for event in islice(standing, rows)
    ]


def _done_words(walker: Walker, event: Event, saying: Saying) -> str:
    step = step_of(event)
    if step.kind is StepKind.CUT:
        return f"cut: {briefly(walker, step, saying)}"
    reading = event.data.get("reading")
    if reading is not None and step.setting is not None:  # as it was then: a scrap cut may have corrected it since
        return f"done: fence to {reading} (setting {step.setting + 1})"
    return f"done: {briefly(walker, step, saying)}"
