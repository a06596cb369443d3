"""Which batch to carry on, where none is named."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from coach.plain.lines import Lines, answer
from coach.record.rows import BatchRow
from coach.telling.log.boards import when


def which_batch(lines: Lines, rows: Sequence[BatchRow], now: datetime) -> BatchRow | None:
    """Asks for one of the batches in `rows`, which are under way; None if the person goes back or is gone."""
    choices = [f"{row.name}: {_far(row, now)}" for row in rows]
    try:
        chosen = answer(lines.choose("Which batch is carried on?", choices))
    except (EOFError, KeyboardInterrupt):
        return None
    return None if chosen is None else rows[chosen]


def _far(row: BatchRow, now: datetime) -> str:
    if row.fault:
        return "damaged; coach recover brings back what can be read"
    return f"{row.cuts_done} of {row.cuts} cuts done, last worked on {when(row.last, now)}"
