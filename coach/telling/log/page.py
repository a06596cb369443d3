"""The log as a person reads it: the batches, or the boards of one batch."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from rich.console import Group, RenderableType
from rich.text import Text

from coach.record.batch.session import Session
from coach.record.rows import BatchRow, Leftover
from coach.telling.columns import columns
from coach.telling.log.boards import board_progress, total, when
from coach.telling.log.leftovers import leftover_lines
from coach.telling.plan.page import sample_shop_lines


def batches_page(rows: Sequence[BatchRow], now: datetime) -> RenderableType:
    """All batches, with how far each is and when it was last worked on."""
    if not rows:
        return Text("No batch has been started yet: coach run LAYOUT starts one.")
    cells = [("batch", "cuts", "state", "last worked on")]
    for row in rows:
        if row.fault:
            cells.append((row.name, "", "damaged", "coach recover brings back what can be read"))
            continue
        state = "finished" if row.finished else "under way" if row.cuts_done < row.cuts else "at the bench"
        cells.append((row.name, f"{row.cuts_done} of {row.cuts}", state, when(row.last, now)))
    return Group(*map(Text, columns(cells, right=(1,))))


def boards_page(session: Session, leftovers: Sequence[Leftover], now: datetime) -> RenderableType:
    """The boards of a batch: which are cut, when, and what is left; and what a recovery has kept beside it."""
    boards = board_progress(session.walker, session.events)
    cells = [("board", "cuts", "ends", "last cut")]
    for board in boards:
        label = f"{board.label} ({board.notes})" if board.notes else board.label
        ends = ", ".join(end.words() for end in board.ends)
        cells.append((label, board.state, ends, when(board.last_cut, now) if board.last_cut else ""))
    cut, of = total(boards)
    cuts, bench = session.walker.cuts_left_in_all, session.walker.steps_at_bench_left
    parts = [Text(session.name, style="bold"), *map(Text, columns(cells))]
    parts.append(Text(f"{cut} of {of} boards all cut; left: {cuts} cuts, {bench} steps at the bench"))
    parts += map(Text, leftover_lines(leftovers, now))
    return Group(*parts, *sample_shop_lines(session.job))
