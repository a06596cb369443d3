"""Where the fence is put for a setting once scrap cuts have shown by how much its scale reads wrong."""

from __future__ import annotations

from coach.plan.intervals import Grid, Interval
from coach.plan.job import Job
from coach.plan.reach import fence_interval, scale_grid
from coach.plan.settings import Settings


def stand_mm(job: Job, settings: Settings, setting: int, offset_mm: float) -> float:
    """Where the fence is put for a setting (F).

    As it was decided, as long as the scale reads right. Where every reading has to be corrected by `offset_mm`, the
    graduations lie elsewhere: then it is the graduation nearest to the corrected reading of those at which all sides
    that the setting serves stay within tolerance; the corrected reading itself, between graduations, where none does.
    """
    decided = settings.fence_mm[setting]
    grid = scale_grid(job.rigged(settings.rig(setting)))
    if not offset_mm or grid is None:
        return decided
    allowed = common_interval(job, settings, setting)
    if allowed is None:
        return decided
    there = Grid(grid.start - offset_mm, grid.step).within(allowed.low, allowed.high)
    return min(there, key=lambda fence: abs(fence - decided), default=decided)


def common_interval(job: Job, settings: Settings, setting: int) -> Interval | None:
    """Where the fence may stand for all sides that a setting serves; None if it serves none, or no place does for all.

    Boards that came late or were mended count with what serves them instead.
    """
    rigged = job.rigged(settings.rig(setting))
    kinds = {(board.pattern, board.number if board.number in settings.own else None) for board in job.boards}
    wants = [
        fence_interval(rigged, job.patterns[pattern], side)
        for pattern, own in kinds
        for side, index in (settings.serves[pattern] if own is None else settings.own[own]).items()
        if index == setting
    ]
    if not wants:
        return None
    low, high = max(want.low for want in wants), min(want.high for want in wants)
    return Interval(low, settings.fence_mm[setting], high) if low <= high else None
