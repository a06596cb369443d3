"""A mark in words: where the fence as it is set cuts, and beside it where it was drawn, if that differs."""

from __future__ import annotations

from coach.plan.geometry import mark_at_fence_mm, mark_from_jig_mm
from coach.plan.reach import scale_grid
from coach.plan.steps import Step
from coach.plan.walking.walker import Walker
from coach.telling.phrases import Saying

SHARED, ROUNDED, LEFT_SO = "shared setting", "rounded", "as measured"
"""Why a setting cuts elsewhere than drawn: it serves several marks, or stands on the nearest graduation, or was left
where a scrap cut showed it to be."""


def mark_words(walker: Walker, step: Step, saying: Saying) -> str:
    """Where a cut's kerf will stand, from the edge that its side faces; and the mark as drawn where it differs."""
    assert step.side is not None and step.mark_mm is not None and step.setting is not None
    cut, drawn = saying.length(walker.mark_as_cut_mm(step.side)), saying.length(step.mark_mm)
    beside = "" if cut == drawn else f" (drawn {drawn}, {_why(walker, step.setting)})"
    return f"Mark {cut} from the {step.side.faces} edge{beside}"


def drawn_words(walker: Walker, setting: int, saying: Saying) -> str:
    """The marks as drawn that a setting cuts, from the edge at the jig, with why they differ from where it cuts;
    nothing where they don't."""
    job = walker.job_at(setting)
    jig = job.shop.jig
    used = {(board.pattern, board.number if board.number in walker.settings.own else None) for board in job.boards}
    marks = set()
    for pattern, own in used:
        serving = walker.settings.serves[pattern] if own is None else walker.settings.own[own]
        for (end, tail, faces), index in serving.items():
            if index == setting:
                joint, width_mm = job.patterns[pattern].ends[end], job.patterns[pattern].part.width_mm
                marks.add(mark_from_jig_mm(jig, joint, width_mm, tail, faces))
    shown = list(dict.fromkeys(saying.length(mark) for mark in sorted(marks)))
    cut = saying.length(mark_at_fence_mm(jig, job.shop.saw.kerf_mm, walker.cuts_at_mm(setting)))
    if shown in ([], [cut]):
        return ""
    if len(shown) > 1:
        return f"one setting for marks drawn from {shown[0]} to {shown[-1]}"
    return f"drawn {shown[0]}, {_why(walker, setting)}"


def _why(walker: Walker, setting: int) -> str:
    """Why a setting cuts elsewhere than drawn, in a few words."""
    if abs(walker.cuts_at_mm(setting) - walker.stands_mm(setting)) > 1e-6:
        return LEFT_SO
    grid, read_mm = scale_grid(walker.job_at(setting)), walker.stands_mm(setting) + walker.offset_mm(setting)
    return ROUNDED if grid is not None and grid.has(read_mm) else SHARED
