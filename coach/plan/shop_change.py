"""Another blade, jig, fence or scale in the middle of a batch: the settings that then serve, and what it can't cut."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from coach.errors import CoachError
from coach.joint.layout import EndLayout
from coach.joint.limits import NEAR_SLOPES, Show, end_problems
from coach.plan.geometry import fence_for_mark_mm, mark_at_fence_mm
from coach.plan.job import Job, Pattern, make_job
from coach.plan.reach import reach_problems
from coach.plan.settings import (
    PatternSide,
    Settings,
    fence_interval,
    fewest_fences,
    one_cut_each,
    scale_grid,
)
from coach.plan.situation import FenceState, Situation
from coach.plan.steps import RETURN_TOPICS
from coach.plan.virtual_saw import NEAR, shift_mm
from coach.plan.walker import Walker
from coach.shop.tools import Shop
from coach.words import Edge, End, Lie, Side

Serving = Mapping[PatternSide, int]


def settings_for_shop(situation: Situation, shop: Shop, show: Show) -> Settings:
    """The settings with another blade, jig, fence or scale.

    Settings that are begun are kept as they were cut: the fence goes where the new blade and jig cut the same mark.
    Those not yet begun are worked out anew.

    Raises:
        CoachError: the slope differs although boards have been cut, or the side from which the jig cuts; the blade
            doesn't fit a socket; the scale is too coarse; the saw can't reach.
    """
    old, job = situation.job.shop, _with_shop(situation.job, shop)
    _refuse_other_slope(situation, shop)
    walker = Walker(situation)
    settings = situation.settings
    begun = {index for index in range(len(settings.fence_mm)) if walker.cuts_left(index) < walker.cuts_at(index)}
    fences = list(settings.fence_mm)
    for index in begun:
        mark = mark_at_fence_mm(old.jig, old.saw.kerf_mm, fences[index])
        fences[index] = fence_for_mark_mm(shop.jig, shop.saw.kerf_mm, mark)
    wants = {
        fence_interval(job, pattern, side)
        for pattern, serving in _servings(job, settings)
        for side, setting in serving.items()
        if setting not in begun
    }
    stands = fewest_fences(wants, scale_grid(job))
    rank = {fence: len(fences) + number for number, fence in enumerate(sorted(set(stands.values()), reverse=True))}

    def anew(pattern: Pattern, serving: Serving) -> dict[PatternSide, int]:
        return {
            side: setting if setting in begun else rank[stands[fence_interval(job, pattern, side)]]
            for side, setting in serving.items()
        }

    found = Settings(
        (*fences, *rank),
        tuple(anew(pattern, serving) for pattern, serving in zip(job.patterns, settings.serves, strict=True)),
        {number: anew(job.pattern_of(number), serving) for number, serving in settings.own.items()},
        settings.smallest_first,
    )
    for pattern, serving in _servings(job, found):
        one_cut_each(job, pattern, serving)
    _refuse_unfit(job, found, situation, show)
    return found


def change_shop(situation: Situation, shop: Shop, settings: Settings) -> Situation:
    """Another blade, jig, fence or scale: nobody knows where the fence stands, and a scrap cut is due."""
    lies = dict(situation.lies)
    if shop.fence.side is not situation.job.shop.fence.side:
        # No board has been turned, but each has its other edge towards the fence now.
        lies = {number: Lie(lie.end, lie.edge.other) for number, lie in lies.items()}
    return replace(
        situation,
        job=_with_shop(situation.job, shop),
        settings=settings,
        fence=FenceState(setting=situation.fence.setting),
        lies=lies,
        unprepared=situation.unprepared or RETURN_TOPICS,
    )


def unfit(
    job: Job, settings: Settings, pattern: Pattern, serving: Serving, ends: Iterable[End], show: Show
) -> list[str]:
    """What the blade in use can't cut of these ends of a board, as laid out or as rounded to the scale."""
    kerf = job.shop.saw.kerf_mm
    found = []
    for end in ends:
        joint = pattern.ends[end]
        wrong = end_problems(pattern.part, joint, job.shop.jig.slope, kerf, show)
        if not wrong:
            cut = _as_cut(job, settings, pattern, serving, end)
            wrong = [
                f"{problem}, once rounded to the scale"
                for problem in end_problems(pattern.part, cut, job.shop.jig.slope, kerf - NEAR, show)
            ]
        found += [f'part "{pattern.part.label}", end {end}: {problem}' for problem in wrong]
    return found


def _as_cut(job: Job, settings: Settings, pattern: Pattern, serving: Serving, end: End) -> EndLayout:
    """An end with its marks where the settings really cut them."""
    joint = pattern.ends[end]

    def cut_mm(tail: int, faces: Edge) -> float:
        side = (end, tail, faces)
        return joint.mark_mm(tail, faces) + shift_mm(job, pattern, side, settings.fence_mm[serving[side]])

    tails = range(1, joint.tails + 1)
    return replace(
        joint,
        top_marks_mm=tuple(cut_mm(tail, Edge.TOP) for tail in tails),
        bottom_marks_mm=tuple(cut_mm(tail, Edge.BOTTOM) for tail in reversed(tails)),
    )


def _refuse_other_slope(situation: Situation, shop: Shop) -> None:
    """CoachError if the jig can't go on with what is cut or doesn't have the slope that a layout is drawn for."""
    old = situation.job.shop.jig
    cut = any(side.board not in situation.out for side in situation.done)
    if cut and abs(old.slope - shop.jig.slope) > NEAR_SLOPES:
        raise CoachError(
            "the new jig has another slope, but boards of this batch are cut at the old one; finish them first"
        )
    if cut and old.wide_leads != shop.jig.wide_leads:
        raise CoachError("the new jig leads with its other end; expected one like that with which this batch was begun")
    for layout in situation.job.layouts:
        if layout.slope is not None and abs(layout.slope - shop.jig.slope) > NEAR_SLOPES:
            raise CoachError(f"the new jig has another slope than the one that layout “{layout.name}” is drawn for")


def _refuse_unfit(job: Job, settings: Settings, situation: Situation, show: Show) -> None:
    """CoachError if the shop can't cut what is left of the job."""
    wrong: list[str] = []
    used: set[int] = set()
    seen: set[tuple[int, int | None, tuple[End, ...]]] = set()
    for board in job.boards:
        if board.number in situation.out:
            continue
        serving = settings.serving(board)
        sides = [side for side in serving if Side(board.number, *side) not in situation.done]
        used.update(serving[side] for side in sides)
        ends = tuple(dict.fromkeys(end for end, _, _ in sides))
        key = (board.pattern, board.number if board.number in settings.own else None, ends)
        if ends and key not in seen:
            seen.add(key)
            wrong += unfit(job, settings, job.patterns[board.pattern], serving, ends, show)
    left = {pattern for pattern, _, _ in seen}
    patterns = tuple(job.patterns[index] for index in sorted(left))
    fences = tuple(sorted({settings.fence_mm[setting] for setting in used}, reverse=True))
    wrong += reach_problems(replace(job, patterns=patterns), replace(settings, fence_mm=fences), show)
    if wrong:
        raise CoachError(*dict.fromkeys(wrong))


def _with_shop(job: Job, shop: Shop) -> Job:
    """The job with another shop; tolerances that come from the scale follow it."""
    before, now = (make_job(job.layouts, tools).patterns for tools in (job.shop, shop))

    def tolerance_mm(pattern: Pattern) -> float:
        # A mended board has a pattern of its own, with the part, hand and tolerance of the one that it was laid out by.
        return next(
            new.tolerance_mm
            for old, new in zip(before, now, strict=True)
            if (old.part, old.hand, old.tolerance_mm) == (pattern.part, pattern.hand, pattern.tolerance_mm)
        )

    patterns = tuple(replace(pattern, tolerance_mm=tolerance_mm(pattern)) for pattern in job.patterns)
    return replace(job, shop=shop, patterns=patterns)


def _servings(job: Job, settings: Settings) -> list[tuple[Pattern, Serving]]:
    return [
        *zip(job.patterns, settings.serves, strict=True),
        *((job.pattern_of(number), serving) for number, serving in settings.own.items()),
    ]
