"""Another blade, jig, fence or scale in the middle of a batch: the settings that then serve, and what it can't cut."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from coach.ground.errors import CoachError
from coach.ground.terms import Edge, End, Lie, Side
from coach.joint.layout import EndLayout
from coach.joint.limits import NEAR_SLOPES, Show, end_problems
from coach.plan.deciding.fewest import fewest_fences
from coach.plan.geometry import fence_for_mark_mm, mark_at_fence_mm
from coach.plan.intervals import Interval
from coach.plan.job import Job, Pattern
from coach.plan.judging.reach_problems import board_problems, fence_problems
from coach.plan.judging.virtual_saw import NEAR
from coach.plan.reach import PatternSide, fence_interval, scale_grid, shift_mm
from coach.plan.settings import Settings, one_cut_each
from coach.plan.steps import OVER, RETURN_TOPICS
from coach.plan.walking.situation import FenceState, Situation
from coach.plan.walking.walker import Walker
from coach.shop.tools import Shop

Serving = Mapping[PatternSide, int]


def settings_for_shop(situation: Situation, shop: Shop, show: Show) -> Settings:
    """The settings with another blade, jig, fence or scale.

    Settings that are begun are kept as they were cut: the fence goes where the new blade and jig cut the same mark.
    Those not yet begun are worked out anew.

    Raises:
        CoachError: the slope differs although boards have been cut, or the side from which the jig cuts; the blade
            doesn't fit a socket; the scale is too coarse; the saw can't reach.
    """
    old, job = situation.job.shop, replace(situation.job, shop=shop)
    _refuse_other_slope(situation, shop)
    _refuse_other_rigs(situation, shop)
    walker = Walker(situation)
    settings = situation.settings
    begun = {index for index in range(len(settings.fence_mm)) if walker.cuts_left(index) < walker.cuts_at(index)}
    fences = list(settings.fence_mm)
    for index in begun:
        rig = settings.rig(index)
        mark = mark_at_fence_mm(old.rigged(rig).jig, old.saw.kerf_mm, walker.stands_mm(index))
        fences[index] = fence_for_mark_mm(shop.rigged(rig).jig, shop.saw.kerf_mm, mark)
    wants: dict[int, set[Interval]] = {}
    for pattern, serving in _servings(job, settings):
        for side, setting in serving.items():
            if setting not in begun:
                rig = settings.rig(setting)
                wants.setdefault(rig, set()).add(fence_interval(job.rigged(rig), pattern, side))
    stands = {rig: fewest_fences(found, scale_grid(job.rigged(rig))) for rig, found in sorted(wants.items())}
    places = [(rig, fence) for rig, at in stands.items() for fence in sorted(set(at.values()), reverse=True)]
    rank = {place: len(fences) + number for number, place in enumerate(places)}

    def anew(pattern: Pattern, serving: Serving) -> dict[PatternSide, int]:
        found = {}
        for side, setting in serving.items():
            rig = settings.rig(setting)
            at = fence_interval(job.rigged(rig), pattern, side)
            found[side] = setting if setting in begun else rank[rig, stands[rig][at]]
        return found

    rigs = (*(settings.rig(index) for index in range(len(fences))), *(rig for rig, _ in places))
    found = Settings(
        (*fences, *(fence for _, fence in places)),
        tuple(anew(pattern, serving) for pattern, serving in zip(job.patterns, settings.serves, strict=True)),
        {number: anew(job.pattern_of(number), serving) for number, serving in settings.own.items()},
        settings.smallest_first,
        rigs if any(rigs) else (),
    )
    for pattern, serving in _servings(job, found):
        one_cut_each(job, found, pattern, serving)
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
        job=replace(situation.job, shop=shop),
        settings=settings,
        fence=FenceState(setting=situation.fence.setting, worked=situation.fence.worked),
        lies=lies,
        unprepared=situation.unprepared
        if set(situation.unprepared) - {OVER}
        else (*RETURN_TOPICS, *situation.unprepared),
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
        setting = serving[side]
        rigged = job.rigged(settings.rig(setting))
        return joint.mark_mm(tail, faces) + shift_mm(rigged, pattern, side, settings.fence_mm[setting])

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


def _refuse_other_rigs(situation: Situation, shop: Shop) -> None:
    """CoachError if a batch is cut with several fences or jigs and the new shop hasn't the like of them."""
    old = situation.job.shop
    for rig in sorted(set(situation.settings.rigs)):
        if rig < shop.rigs and (len(old.fences), len(old.jigs)) == (len(shop.fences), len(shop.jigs)):
            was, new = old.rigged(rig), shop.rigged(rig)
            alike = was.jig.wide_leads == new.jig.wide_leads and abs(was.jig.slope - new.jig.slope) <= NEAR_SLOPES
            if alike and was.fence.side is new.fence.side:
                continue
        raise CoachError(
            "this batch is cut with several fences or jigs of the shop; expected as many of each in the new one, in "
            "the same order, on the same sides of the blade and with the same ends leading"
        )


def _refuse_unfit(job: Job, settings: Settings, situation: Situation, show: Show) -> None:
    """CoachError if the shop can't cut what is left of the job."""
    wrong: list[str] = []
    out_of_reach: list[str] = []
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
            pattern = job.patterns[board.pattern]
            wrong += unfit(job, settings, pattern, serving, ends, show)
            to_come = {side: serving[side] for side in sides}
            out_of_reach += board_problems(job, settings, pattern, to_come, show)
    wrong += fence_problems(job, settings, sorted(used), show) + out_of_reach
    if wrong:
        raise CoachError(*dict.fromkeys(wrong))


def _servings(job: Job, settings: Settings) -> list[tuple[Pattern, Serving]]:
    return [
        *zip(job.patterns, settings.serves, strict=True),
        *((job.pattern_of(number), serving) for number, serving in settings.own.items()),
    ]
