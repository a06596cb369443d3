"""What a finished batch was: boards, spoiled ones, spares left, time at it, and what to carry into the shop file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from coach.plan.steps import OVER
from coach.plan.walking.walker import Walker
from coach.record.batch.taking_back import undone_numbers
from coach.record.kinds import DROP, SPOIL
from coach.record.rows import Event
from coach.telling.phrases import Saying, counted
from coach.trade.reminders import AT_THE_END

BREAK = timedelta(minutes=10)
"""A pause longer than this isn't counted as work."""


def done_lines(walker: Walker, events: Sequence[Event], saying: Saying) -> tuple[str, ...]:
    """What was done, and what is left to do at the saw if that was never said to be done."""
    undone = undone_numbers(events)
    standing = [event for event in events if event.number not in undone]
    gone = {kind: sum(event.kind == kind for event in standing) for kind in (SPOIL, DROP)}
    left_in = [board for board in walker.job.boards if board.number not in walker.out]
    spares = sum(board.spare for board in left_in)
    parts = [counted(len(left_in) - spares, "board"), counted(walker.cuts_in_all, "cut")]
    if gone[SPOIL]:
        parts.append(f"{counted(gone[SPOIL], 'board')} spoiled")
    if gone[DROP]:
        parts.append(f"{gone[DROP]} left out")
    if spares:
        parts.append(f"{counted(spares, 'spare')} left")
    lines = [f"{', '.join(parts)}.", *_time(events), *_offset(walker, saying)]
    return (*lines, *AT_THE_END) if OVER in walker.unprepared else tuple(lines)


def _time(events: Sequence[Event]) -> list[str]:
    """How long the person was at it, breaks left out, and on how many days."""
    moments = [datetime.fromisoformat(event.at) for event in events]
    gaps = [later - earlier for earlier, later in pairwise(moments)]
    worked = sum((gap for gap in gaps if timedelta() <= gap <= BREAK), timedelta())
    minutes = round(worked.total_seconds() / 60)
    if not minutes:
        return []
    hours, rest = divmod(minutes, 60)
    said = f"{hours} h {rest} min" if hours else f"{rest} min"
    days = len({moment.astimezone(moments[-1].tzinfo).date() for moment in moments})
    return [f"{said} at it{f', on {days} days' if days > 1 else ''}, breaks left out."]


def _offset(walker: Walker, saying: Saying) -> list[str]:
    """What the scrap cuts have shown of the scale, as it goes into the shop file."""
    setting = walker.fence.setting
    if setting is None:
        return []
    fence, offset_mm = walker.job_at(setting).shop.fence, walker.fence.offset_mm
    if fence.graduation is None or saying.length(abs(offset_mm)) == saying.length(0.0):
        return []
    way = "too little" if offset_mm > 0 else "too much"
    zero_mm = fence.zero_mm + offset_mm
    zero = f"{'-' if zero_mm < 0 else ''}{saying.length(abs(zero_mm))}"
    return [
        f"The scale reads {saying.length(abs(offset_mm))} {way}, by the last scrap cut: in the shop file, "
        f'zero = "{zero}" for this fence saves correcting it again.'
    ]
