"""Moments as a person says them: with the day where it isn't today's."""

from __future__ import annotations

from datetime import datetime, timedelta

WEEK = timedelta(days=7)


def time_words(at: str, now: datetime, *, seconds: bool = False, today: str = "") -> str:
    """`16:05`, `yesterday 16:05`, `Tue 16:05` within a week, else `2026-11-03 16:05`; as the clock stood here.

    Args:
        at: ISO 8601 with offset.
        now: the present moment, with the offset of here.
        seconds: whether to say them.
        today: what stands before a time of today.
    """
    moment = datetime.fromisoformat(at).astimezone(now.tzinfo)
    time = f"{moment:%H:%M:%S}" if seconds else f"{moment:%H:%M}"
    days = (now.date() - moment.date()).days
    if days == 0:
        return f"{today} {time}".strip()
    if days == 1:
        return f"yesterday {time}"
    if 1 < days < WEEK.days:
        return f"{('Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun')[moment.weekday()]} {time}"
    return f"{moment:%Y-%m-%d} {time}"
