"""The log as a person reads it: the batches, or the boards of one batch."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from coach.record.session import Session
from coach.record.store import BatchRow
from coach.sheets.board_table import board_progress, total, when


def batches_page(rows: Sequence[BatchRow], now: datetime) -> RenderableType:
    """All batches, with how far each is and when it was last worked on."""
    if not rows:
        return Text("No batch has been started yet: coach run LAYOUT starts one.")
    table = _table(("batch", "left"), ("cuts", "right"), ("state", "left"), ("last worked on", "left"))
    for row in rows:
        state = "finished" if row.finished else "under way" if row.cuts_done < row.cuts else "at the bench"
        table.add_row(Text(row.name), f"{row.cuts_done} of {row.cuts}", state, when(row.last, now))
    return table


def boards_page(session: Session, now: datetime) -> RenderableType:
    """The boards of a batch: which are cut, when, and what is left."""
    boards = board_progress(session.job, session.events)
    table = _table(("board", "left"), ("cuts", "left"), ("ends", "left"), ("last cut", "left"))
    for board in boards:
        label = f"{board.label} ({board.notes})" if board.notes else board.label
        ends = ", ".join(end.words() for end in board.ends)
        table.add_row(Text(label), board.state, ends, when(board.last_cut, now) if board.last_cut else "")
    cut, of = total(boards)
    left = session.walker.cuts_left_in_all
    bench = session.walker.steps_at_bench_left
    summary = f"{cut} of {of} boards are all cut; {left} cuts and {bench} steps at the bench are left."
    return Group(Text(session.name, style="bold"), table, Text(summary))


def _table(*columns: tuple[str, str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for heading, justify in columns:
        table.add_column(heading, justify=justify)  # type: ignore[arg-type]
    return table
