"""Changes in the middle of a batch: boards spoiled, added or mended, another order.

Each takes a situation to another. What is worked out on the way (settings, labels, which spare) comes back as plain
values, so that the record can keep it and come to the same situation again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from coach.ground.errors import CoachError
from coach.ground.names import clean_text
from coach.ground.terms import End, Lie, Side
from coach.joint.layout import EndLayout
from coach.plan.deciding.fewest import fewest_fences
from coach.plan.intervals import Interval
from coach.plan.job import Board, Job, Pattern, laid_out, make_job
from coach.plan.reach import PatternSide, fence_interval, scale_grid
from coach.plan.settings import Settings
from coach.plan.walking.situation import Situation
from coach.plan.walking.walker import Walker


def spare_for(situation: Situation, number: int) -> int | None:
    """The spare that would take a spoiled board's place: of its part and hand, with the fewest cuts left; without one,
    of its part and the other hand (`of_other_hand`)."""
    job = situation.job
    board = job.board(number)
    if board.spare:
        return None
    walker = Walker(situation)
    left = [spare for spare in job.boards if spare.spare and spare.number not in situation.out]
    like = [spare for spare in left if _alike(job, spare, board)]
    like = like or [spare for spare in left if _of_other_hand(job, spare, board)]
    return min(like, key=lambda spare: (walker.board_cuts_left(spare.number), spare.number)).number if like else None


def _alike(job: Job, one: Board, other: Board) -> bool:
    """Whether two boards are of the same part and hand, mended or not."""
    first, second = job.patterns[one.pattern], job.patterns[other.pattern]
    return first.part == second.part and first.hand == second.hand


def _of_other_hand(job: Job, one: Board, other: Board) -> bool:
    """Whether a board, as it was laid out, is of the same part as another and of the other hand."""
    first, second = job.patterns[one.pattern], job.patterns[other.pattern]
    return first.part == second.part and first.hand != second.hand and laid_out(job, one.pattern) == one.pattern


def becomes_other_hand(situation: Situation, number: int, spare: int | None) -> bool:
    """Whether the spare that takes a board's place is of the other hand."""
    job = situation.job
    return spare is not None and job.pattern_of(spare).hand != job.pattern_of(number).hand


def of_other_hand(situation: Situation, number: int) -> Situation:
    """A board becomes one of the other hand: its faces are lettered anew, outside for inside.

    With the outside face towards you and the top edge up, end A is at the left; with the other face towards you the
    same end is at the right. So the ends change their letters and the edges keep theirs. Tails run square through the
    thickness, so what is cut is what the other hand has there: its ends are laid out the other way round.
    """
    job = situation.job
    board = job.board(number)
    pattern = job.patterns[board.pattern]
    other = next(
        index
        for index, one in enumerate(job.patterns)
        if (one.part, one.tolerance_mm) == (pattern.part, pattern.tolerance_mm) and one.hand not in (None, pattern.hand)
    )
    lies = dict(situation.lies)
    if number in lies:
        lies[number] = Lie(lies[number].end.other, lies[number].edge)
    done = frozenset(side._replace(end=side.end.other) if side.board == number else side for side in situation.done)
    settings = situation.settings
    if number in settings.own:
        own = {(end.other, tail, faces): index for (end, tail, faces), index in settings.own[number].items()}
        settings = replace(settings, own={**settings.own, number: own})
    changed = _with_board(job, replace(board, pattern=other))
    return replace(situation, job=changed, settings=settings, done=done, lies=lies)


def take_out(situation: Situation, number: int, spare: int | None, *, relettered: bool = False) -> Situation:
    """Takes a board out for good; `spare` takes its place and is a spare no more, with its faces lettered anew if it is
    of the other hand."""
    if number in situation.out:
        raise CoachError(f"{situation.job.board(number).label} is out already")
    job = situation.job
    if spare is not None:
        if relettered:
            situation = of_other_hand(situation, spare)
            job = situation.job
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
    """The boards that would be added of one pattern, with their numbers and labels.

    They take after the layout, even if boards of the pattern have been mended or relabelled.
    """
    job = situation.job
    first = laid_out(job, pattern)
    like = [board for board in job.boards if job.patterns[board.pattern].part == job.patterns[pattern].part]
    began = make_job(job.layouts, job.shop).boards[like[0].number - 1]
    stem = began.label.rpartition(" ")[0]
    taken = {board.label for board in job.boards}
    found: list[Board] = []
    index = len(like)
    while len(found) < count:
        index += 1
        if f"{stem} {index}" not in taken:
            found.append(Board(len(job.boards) + len(found) + 1, f"{stem} {index}", first, spare))
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
    others, with the rig that usually cuts them, the fewest fence positions are found, and an earlier setting is used
    again where it can be one of them.
    """
    fences = list(settings.fence_mm)
    coming = [
        index
        for index in range(len(walker.settings.fence_mm))
        if walker.cuts_left(index) or (index == walker.fence.setting and walker.fence.confirmed)
    ]
    own: dict[PatternSide, int] = {}
    rest: dict[int, dict[PatternSide, Interval]] = {}
    for side in pattern.sides():
        if Side(number, *side) in walker.done:
            own[side] = usual[side]
            continue
        allowed = {index: fence_interval(walker.job_at(index), pattern, side) for index in coming}
        fits = [index for index in coming if allowed[index].holds(fences[index])]
        if usual[side] in fits:
            own[side] = usual[side]
        elif fits:
            own[side] = min(fits, key=lambda index: (abs(fences[index] - allowed[index].ideal), index))
        else:
            rig = settings.rig(usual[side])
            rest.setdefault(rig, {})[side] = fence_interval(walker.job.rigged(rig), pattern, side)
    rigs = [settings.rig(index) for index in range(len(fences))]
    for rig, wants in rest.items():
        stands = fewest_fences(wants.values(), scale_grid(walker.job.rigged(rig)))
        for fence in sorted(set(stands.values()), reverse=True):
            served = [side for side, interval in wants.items() if stands[interval] == fence]
            again = [
                index
                for index, at in enumerate(fences)
                if rigs[index] == rig and all(wants[side].holds(at) for side in served)
            ]
            if not again:
                fences.append(fence)
                rigs.append(rig)
            index = min(again, key=lambda index: abs(fences[index] - fence)) if again else len(fences) - 1
            own.update(dict.fromkeys(served, index))
    found = {**settings.own, number: own}
    return replace(settings, fence_mm=tuple(fences), own=found, rigs=tuple(rigs) if any(rigs) else ())


def lay(situation: Situation, number: int, lie: Lie) -> Situation:
    """A board lies otherwise than its cuts say."""
    return replace(situation, lies={**situation.lies, number: lie})


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
