"""Changes in the middle of a batch: boards spoiled, added or mended, another order, another blade or jig.

Each takes a situation to another. What is worked out on the way (settings, labels, which spare) comes back as plain
values, so that the record can keep it and come to the same situation again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from coach.errors import CoachError
from coach.joint.layout import EndLayout
from coach.joint.limits import NEAR_SLOPES, Show, end_problems
from coach.names import clean_text
from coach.plan.geometry import fence_for_mark_mm, mark_at_fence_mm
from coach.plan.job import Board, Job, Pattern, tolerance_mm
from coach.plan.reach import reach_problems
from coach.plan.settings import PatternSide, Settings, fence_interval, fewest_fences, scale_grid
from coach.plan.situation import FenceState, Situation
from coach.plan.stabbing import Interval
from coach.plan.steps import RETURN_TOPICS
from coach.plan.walker import Walker
from coach.shop.tools import Shop
from coach.words import End, Side


def spare_for(situation: Situation, number: int) -> int | None:
    """The spare that would take a spoiled board's place: of its part and hand, with the fewest cuts left."""
    job = situation.job
    board = job.board(number)
    if board.spare:
        return None
    walker = Walker(situation)
    like = [
        spare for spare in job.boards if spare.spare and spare.number not in situation.out and _alike(job, spare, board)
    ]
    return min(like, key=lambda spare: (walker.board_cuts_left(spare.number), spare.number)).number if like else None


def _alike(job: Job, one: Board, other: Board) -> bool:
    """Whether two boards are of the same part and hand, mended or not."""
    first, second = job.patterns[one.pattern], job.patterns[other.pattern]
    return first.part == second.part and first.hand == second.hand


def take_out(situation: Situation, number: int, spare: int | None) -> Situation:
    """Takes a board out for good; `spare` takes its place and is a spare no more."""
    if number in situation.out:
        raise CoachError(f"{situation.job.board(number).label} is out already")
    job = situation.job
    if spare is not None:
        job = _with_board(job, replace(job.board(spare), spare=False))
    return replace(situation, job=job, out=situation.out | {number}, aside=situation.aside - {number})


def relabel(situation: Situation, number: int, label: str) -> Situation:
    """Gives a board another label; CoachError if another board has it or if it can't be one."""
    why = clean_text(label)
    if why:
        raise CoachError(f"the label {why}")
    if any(board.label == label.strip() and board.number != number for board in situation.job.boards):
        raise CoachError(f"another board is called “{label.strip()}” already; expected a label of its own")
    return replace(situation, job=_with_board(situation.job, replace(situation.job.board(number), label=label.strip())))


def new_boards(situation: Situation, pattern: int, count: int, *, spare: bool = False) -> list[Board]:
    """The boards that would be added of one pattern, with their numbers and labels."""
    job = situation.job
    like = [board for board in job.boards if job.patterns[board.pattern].part == job.patterns[pattern].part]
    stem = like[0].label.rpartition(" ")[0] or like[0].label
    taken = {board.label for board in job.boards}
    found: list[Board] = []
    index = len(like)
    while len(found) < count:
        index += 1
        if f"{stem} {index}" not in taken:
            found.append(Board(len(job.boards) + len(found) + 1, f"{stem} {index}", pattern, spare))
    return found


def settings_with(situation: Situation, boards: Sequence[Board]) -> Settings:
    """The settings once `boards` have been added: what is still to come serves them as far as it can, and as few
    settings as can be are set again or added for the rest."""
    walker = Walker(situation)
    settings = situation.settings
    for board in boards:
        pattern = situation.job.patterns[board.pattern]
        settings = _serving_late(walker, settings, board.number, pattern, settings.serves[board.pattern])
    return settings


def add(situation: Situation, boards: Sequence[Board], settings: Settings) -> Situation:
    """Adds boards, at the end of the stack."""
    job = replace(situation.job, boards=(*situation.job.boards, *boards))
    order = (*situation.order, *(board.number for board in boards))
    return replace(situation, job=job, settings=settings, order=order)


def mended_settings(situation: Situation, number: int, end: End, joint: EndLayout) -> Settings:
    """The settings once one end of a board has the marks of `joint` instead of its own."""
    pattern = _mended_pattern(situation.job, number, end, joint)
    settings = situation.settings
    serving = settings.serving(situation.job.board(number))
    settings = replace(settings, serves=(*settings.serves, serving))
    return _serving_late(Walker(situation), settings, number, pattern, serving)


def mend(situation: Situation, number: int, end: End, joint: EndLayout, settings: Settings) -> Situation:
    """Gives one end of a board other marks, so that it serves although a cut went wrong."""
    job = situation.job
    pattern = _mended_pattern(job, number, end, joint)
    patterns = (*job.patterns, pattern)
    job = _with_board(replace(job, patterns=patterns), replace(job.board(number), pattern=len(patterns) - 1))
    return replace(situation, job=job, settings=settings)


def _mended_pattern(job: Job, number: int, end: End, joint: EndLayout) -> Pattern:
    pattern = job.pattern_of(number)
    return replace(pattern, ends={**pattern.ends, end: joint})


def _with_board(job: Job, board: Board) -> Job:
    boards = list(job.boards)
    boards[board.number - 1] = board
    return replace(job, boards=tuple(boards))


def _serving_late(
    walker: Walker, settings: Settings, number: int, pattern: Pattern, usual: Mapping[PatternSide, int]
) -> Settings:
    """Serves a board that comes when some settings have passed.

    A setting that will be stood at anyway costs nothing, so it serves every side that it can within tolerance. For the
    others the fewest fence positions are found, and an earlier setting is used again where it can be one of them.
    """
    fences = list(settings.fence_mm)
    coming = [
        index
        for index in range(len(walker.settings.fence_mm))
        if walker.cuts_left(index) or (index == walker.fence.setting and walker.fence.confirmed)
    ]
    own: dict[PatternSide, int] = {}
    rest: dict[PatternSide, Interval] = {}
    for side in pattern.sides():
        if Side(number, *side) in walker.done:
            own[side] = usual[side]
            continue
        interval = fence_interval(walker.job, pattern, side)
        fits = [index for index in coming if interval.holds(fences[index])]
        if usual[side] in fits:
            own[side] = usual[side]
        elif fits:
            own[side] = min(fits, key=lambda index: (abs(fences[index] - interval.ideal), index))
        else:
            rest[side] = interval
    stands = fewest_fences(rest.values(), scale_grid(walker.job))
    for fence in sorted(set(stands.values()), reverse=True):
        served = [side for side, interval in rest.items() if stands[interval] == fence]
        again = [index for index, at in enumerate(fences) if all(rest[side].holds(at) for side in served)]
        if not again:
            fences.append(fence)
        index = min(again, key=lambda index: abs(fences[index] - fence)) if again else len(fences) - 1
        own.update(dict.fromkeys(served, index))
    return replace(settings, fence_mm=tuple(fences), own={**settings.own, number: own})


def put_aside(situation: Situation, number: int) -> Situation:
    """A board waits until no other has a cut left."""
    first = None if situation.board_first == number else situation.board_first
    return replace(situation, aside=situation.aside | {number}, board_first=first)


def take_up(situation: Situation, number: int) -> Situation:
    """A board that was put aside takes its turn again."""
    return replace(situation, aside=situation.aside - {number})


def skip(situation: Situation, number: int) -> Situation:
    """A board goes to the end of the stack."""
    return replace(situation, order=(*(other for other in situation.order if other != number), number))


def board_first(situation: Situation, number: int) -> Situation:
    """All that is left on one board comes before anything else."""
    return replace(situation, board_first=number, aside=situation.aside - {number})


def setting_first(situation: Situation, setting: int) -> Situation:
    """All that is left at one setting comes before anything else."""
    return replace(situation, setting_first=setting, board_first=None)


def settings_for_shop(situation: Situation, shop: Shop, show: Show) -> Settings:
    """The settings with another blade, jig, fence or scale.

    Settings that are begun are kept as they were cut: the fence goes where the new blade and jig cut the same mark.
    Those not yet begun are worked out anew.

    Raises:
        CoachError: the slope differs although boards have been cut, or the side from which the jig cuts; the blade
            doesn't fit a socket; the saw can't reach.
    """
    old, job = situation.job.shop, _with_shop(situation.job, shop)
    if situation.done and abs(old.jig.slope - shop.jig.slope) > NEAR_SLOPES:
        raise CoachError(
            "the new jig has another slope, but boards of this batch are cut at the old one; finish them first"
        )
    if situation.done and old.jig.wide_leads != shop.jig.wide_leads:
        raise CoachError("the new jig leads with its other end; expected one like that with which this batch was begun")
    walker = Walker(situation)
    settings = situation.settings
    begun = {index for index in range(len(settings.fence_mm)) if walker.cuts_left(index) < walker.cuts_at(index)}
    fences = list(settings.fence_mm)
    for index in begun:
        mark = mark_at_fence_mm(old.jig, old.saw.kerf_mm, fences[index])
        fences[index] = fence_for_mark_mm(shop.jig, shop.saw.kerf_mm, mark)
    wants = {
        interval
        for pattern, serving in _servings(job, settings)
        for side, setting in serving.items()
        if setting not in begun
        for interval in [fence_interval(job, pattern, side)]
    }
    stands = fewest_fences(wants, scale_grid(job))
    rank = {fence: len(fences) + number for number, fence in enumerate(sorted(set(stands.values()), reverse=True))}

    def anew(pattern: Pattern, serving: Mapping[PatternSide, int]) -> dict[PatternSide, int]:
        return {
            side: setting if setting in begun else rank[stands[fence_interval(job, pattern, side)]]
            for side, setting in serving.items()
        }

    found = Settings(
        (*fences, *rank),
        tuple(anew(pattern, serving) for pattern, serving in zip(job.patterns, settings.serves, strict=True)),
        {number: anew(job.pattern_of(number), serving) for number, serving in settings.own.items()},
    )
    _refuse_unfit(job, found, walker, show)
    return found


def _refuse_unfit(job: Job, settings: Settings, walker: Walker, show: Show) -> None:
    """CoachError if the shop can't cut what is left of the job."""
    left = {board.pattern for board in job.boards if walker.board_cuts_left(board.number)}
    wrong = [
        f'part "{pattern.part.label}", end {end}: {problem}'
        for pattern in (job.patterns[index] for index in sorted(left))
        for end, joint in pattern.ends.items()
        for problem in end_problems(pattern.part, joint, job.shop.jig.slope, job.shop.saw.kerf_mm, show)
    ]
    used = {
        settings.fence_mm[setting]
        for board in job.boards
        for side, setting in settings.serving(board).items()
        if board.number not in walker.out and Side(board.number, *side) not in walker.done
    }
    wrong += reach_problems(job, replace(settings, fence_mm=tuple(sorted(used, reverse=True))), show)
    if wrong:
        raise CoachError(*dict.fromkeys(wrong))


def _with_shop(job: Job, shop: Shop) -> Job:
    """The job with another shop; tolerances that come from the scale follow it."""
    patterns = tuple(
        replace(pattern, tolerance_mm=tolerance_mm(layout, shop))
        for pattern in job.patterns
        for layout in job.layouts
        if pattern.part in layout.parts
    )
    return replace(job, shop=shop, patterns=patterns)


def _servings(job: Job, settings: Settings) -> list[tuple[Pattern, Mapping[PatternSide, int]]]:
    return [
        *zip(job.patterns, settings.serves, strict=True),
        *((job.pattern_of(number), serving) for number, serving in settings.own.items()),
    ]


def change_shop(situation: Situation, shop: Shop, settings: Settings) -> Situation:
    """Another blade, jig, fence or scale: nobody knows where the fence stands, and a scrap cut is due."""
    unprepared = situation.unprepared or RETURN_TOPICS
    fence = FenceState(setting=situation.fence.setting)
    job = _with_shop(situation.job, shop)
    return replace(situation, job=job, settings=settings, fence=fence, unprepared=unprepared)
