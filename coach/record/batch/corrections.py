"""What a person can put right or change in the middle of a batch, as the events that say so.

Each function looks at a batch under way and returns events for `Session.change`; nothing is written here. What can't be
is a CoachError that says why.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from coach.ground.errors import CoachError
from coach.ground.lengths import show_length
from coach.ground.terms import Hand, Lie, Side
from coach.joint.limits import Show
from coach.plan.changing.changes import (
    becomes_other_hand,
    mended_settings,
    new_boards,
    relabel,
    settings_with,
    spare_for,
)
from coach.plan.changing.other_shop import settings_for_shop, unfit
from coach.plan.helping.totals import Totals
from coach.plan.job import Board, Job
from coach.plan.judging.mistakes import Judgement, Mistake, Verdict
from coach.plan.judging.wrong_cuts import judge
from coach.plan.steps import StepKind
from coach.plan.walking.walker import Walker, plan
from coach.record.batch.change_events import (
    add_event,
    board_event,
    mend_event,
    shop_event,
    unmend_events,
    wrong_event,
)
from coach.record.batch.events import fold, step_event, step_of
from coach.record.batch.session import Session
from coach.record.batch.strays import strays_of
from coach.record.kinds import (
    ASIDE,
    BOARD_FIRST,
    DROP,
    LABEL,
    SETTING_FIRST,
    SKIP,
    SPOIL,
    STEP_KINDS,
    TAKE_UP,
    UNDO,
    WRONG,
)
from coach.record.rows import Event, NewEvent
from coach.shop.tools import Shop

MOST_CUTS_PLANNED = 20_000
"""In larger batches the cost of a detour isn't worked out, since the person waits for it."""

MISPRESSED = "mis-pressed, not really cut"


@dataclass(frozen=True, slots=True)
class Correction:
    """What is to be recorded, and what to tell the person."""

    events: tuple[NewEvent, ...]
    lines: tuple[str, ...] = ()


def take_back(session: Session, event: Event, reason: str = MISPRESSED) -> Correction:
    """Takes back any earlier step, a cut above all, so that it is asked for again."""
    if event.kind not in STEP_KINDS:
        raise CoachError("only a step can be taken back; expected a cut of the log")
    if event.number in session.undone:
        raise CoachError("that step is taken back already")
    side = step_of(event).side
    if side is not None:
        _refuse_lettered_anew(session, event)
        _still_cuttable(session, side)
    undo: NewEvent = (UNDO, {"number": event.number, "of": event.kind, "reason": reason})
    if side is None:
        return Correction((undo,))
    back = unmend_events(session.walker, side, strays_of(session, side.board))
    return Correction((*back, undo), _fence_goes_back(session.walker, side))


def _refuse_lettered_anew(session: Session, event: Event) -> None:
    """CoachError if a cut's board has got other letters since: what the cut was called then is another side now."""
    number = event.data["number"]
    for later in session.events:
        anew = later.kind == SPOIL and later.data.get("relettered") and later.data["spare"] == number
        if anew and later.number > event.number and later.number not in session.undone:
            board = session.job.board(number).label
            raise CoachError(
                f"{board} was lettered anew after that cut, to take another board's place: its ends are called the "
                f"other way round now. Say that {board} is spoiled if it is, or take back first what was said of the "
                "other board"
            )


def _still_cuttable(session: Session, side: Side) -> None:
    """CoachError if a side can't be cut again: its board is out, that end's waste is gone, or the blade doesn't fit."""
    walker = session.walker
    job = session.job
    board = job.board(side.board)
    label = board.label
    if side.board in walker.out:
        raise CoachError(f"{label} is out of the batch; nothing more is cut on it")
    if (StepKind.CLEAR, side.board, side.end) in walker.benched:
        raise CoachError(
            f"{label}, end {side.end}: its waste is cleared, and the stop would catch at the baseline: the board would "
            "seat a tail length too deep. It can't be cut again with the jig; saw by hand and pare, or take it out"
        )
    settings = walker.settings
    wrong = unfit(job, settings, job.pattern_of(side.board), settings.serving(board), [side.end], _shown(session))
    if wrong:
        raise CoachError(*wrong)


def _shown(session: Session) -> Show:
    return partial(show_length, unit=session.unit)


def cut_wrong(
    session: Session, event: Event, mistake: Mistake, off_mm: float, show: Show
) -> tuple[Judgement, Correction]:
    """What a cut that went wrong means, and what is recorded if the person agrees.

    Args:
        off_mm: how far off the line, positive into the tail; or how far too deep.
    """
    side = step_of(event).side if event.kind in STEP_KINDS else None
    if side is None:
        raise CoachError("only a cut can have gone wrong; expected a cut of the log")
    if event.number in session.undone:
        raise CoachError("that cut is taken back already")
    walker = session.walker
    if side.board in walker.out:
        raise CoachError(f"{session.job.board(side.board).label} is out of the batch")
    _refuse_lettered_anew(session, event)
    situation = walker.situation()
    then = fold([earlier for earlier in session.events if earlier.number < event.number])
    judgement = judge(walker, side, mistake, off_mm, show, then, strays_of(session, side.board))
    again = judgement.verdict in (Verdict.CUT_AGAIN, Verdict.COUNTS_AS)
    lies = _lie_now(session, event, side, mistake) if again else None
    wrong = wrong_event(situation, side, mistake, off_mm, judgement.verdict, lies)
    if judgement.verdict is Verdict.SPOILED:
        return judgement, _spoiled(session, side.board, mistake.value, (wrong,))
    events: list[NewEvent] = [wrong]
    if judgement.joint is not None:
        settings = mended_settings(situation, side.board, side.end, judgement.joint)
        events.append(mend_event(situation, side.board, side.end, judgement.joint, settings))
    if again:
        _still_cuttable(session, side)
        events.append((UNDO, {"number": event.number, "of": event.kind, "reason": mistake.value}))
    counts_as = judgement.counts_as
    if counts_as is not None and counts_as not in walker.done:
        events.append(step_event(session.job, walker.cut_of(counts_as, None), None, None))
        if lies != walker.lie_of(counts_as):
            events.append(events.pop(0))  # the board has been put down otherwise since
    back = _fence_goes_back(walker, side) if again else ()
    return judgement, Correction(tuple(events), (*judgement.lines, *back))


def left_as_it_is(session: Session, event: Event, mistake: Mistake, off_mm: float) -> Correction:
    """A cut went wrong, and the layout stays all the same."""
    side = step_of(event).side
    assert side is not None
    wrong = wrong_event(session.walker.situation(), side, mistake, off_mm, Verdict.WITHIN)
    return Correction((wrong,), ("The baseline stays where it is; the overcut stays a slit.",))


def _fence_goes_back(walker: Walker, side: Side) -> tuple[str, ...]:
    """What cutting a side again costs, if its setting was done with and the fence has moved on."""
    setting = walker.settings.serving(walker.job.board(side.board))[side.end, side.tail, side.faces]
    if walker.cuts_left(setting) or walker.fence.setting == setting:
        return ()
    return (f"The fence goes back to setting {setting + 1} for it, once more than planned.",)


def _lie_now(session: Session, event: Event, side: Side, mistake: Mistake) -> Lie:
    """How a board lies of which a cut went wrong: as that cut left it, if it wasn't put down otherwise since."""
    walker = session.walker
    undone = session.undone
    since = any(
        later.data["number"] == side.board
        and later.number not in undone
        and (later.kind != WRONG or "lies" in later.data)
        for later in session.events
        if later.number > event.number and later.kind in (StepKind.CUT, WRONG)
    )
    lie = walker.lies[side.board]
    if not since and mistake is Mistake.WRONG_EDGE:
        return Lie(lie.end, lie.edge.other)
    if not since and mistake is Mistake.WRONG_END:
        return Lie(lie.end.other, lie.edge)
    return lie


def spoil(session: Session, number: int, reason: str) -> Correction:
    """A board is spoiled: it is out, and a spare takes its place."""
    return _spoiled(session, number, reason, ())


def _spoiled(session: Session, number: int, reason: str, before: tuple[NewEvent, ...]) -> Correction:
    situation = session.walker.situation()
    _in_batch(session, number)
    spare = spare_for(situation, number)
    relettered = becomes_other_hand(situation, number, spare)
    more_data = {"relettered": True} if relettered else {}
    event = board_event(SPOIL, situation, number, spare=spare, reason=reason, **more_data)
    job = session.job
    board = job.board(number)
    if spare is not None:
        left = session.walker.board_cuts_left(spare)
        behind = left - session.walker.board_cuts_left(number)
        more = "it is cut as far as this one" if behind <= 0 else f"it has {left} cuts left"
        lines: tuple[str, ...] = (f"{job.board(spare).label} takes the place of {board.label}; {more}.",)
        if relettered:
            lines = (*lines, *_reletter_words(job, spare))
    elif board.spare:
        lines = (f"{board.label} was a spare; the batch has one less.",)
    else:
        lines = (f"No spare is left for {board.label}: the batch is one board short. Add a board to make it up.",)
    return Correction((*before, event), lines)


def _reletter_words(job: Job, spare: int) -> tuple[str, ...]:
    """How a board of the other hand is made to serve."""
    pattern = job.pattern_of(spare)
    now = "left" if pattern.hand is Hand.RIGHT else "right"
    groove = " That is so only while it isn't grooved." if pattern.part.groove is not None else ""
    return (
        f"It was laid out as a {pattern.hand}: letter it anew as a {now}. Write outside on its inside face and inside "
        f"on its outside face, A on end B and B on end A; the top edge stays. Tails run square through the thickness, "
        f"so what is cut of it is right.{groove}",
    )


def drop(session: Session, number: int) -> Correction:
    """A board is left out of the batch, without being spoiled; no spare takes its place."""
    _in_batch(session, number)
    event = board_event(DROP, session.walker.situation(), number, spare=None, reason="dropped")
    return Correction((event,), (f"{session.job.board(number).label} is out of the batch.",))


def _in_batch(session: Session, number: int) -> None:
    walker = session.walker
    if number in walker.out:
        raise CoachError(f"{session.job.board(number).label} is out of the batch already")
    if len(walker.out) + 1 == len(session.job.boards):
        raise CoachError("that is the last board of the batch; add another first")


def label(session: Session, number: int, text: str) -> Correction:
    """A board gets another label."""
    situation = session.walker.situation()
    relabel(situation, number, text)
    event = board_event(LABEL, situation, number, label=text.strip())
    return Correction((event,), (f"{session.job.board(number).label} is called {text.strip()} from now on.",))


def add_boards(session: Session, like: int, count: int, *, spare: bool = False) -> tuple[list[Board], Correction]:
    """Boards like board number `like` are added; settings already passed are set again, as few as can be."""
    situation = session.walker.situation()
    job = session.job
    boards = new_boards(situation, job.board(like).pattern, count, spare=spare)
    settings = settings_with(situation, boards)
    pattern = job.patterns[boards[0].pattern]
    wrong = unfit(job, settings, pattern, settings.serving(boards[0]), pattern.ends, _shown(session))
    if wrong:
        raise CoachError(*wrong)
    events = (add_event(boards, settings),)
    names = ", ".join(board.label for board in boards)
    return boards, Correction(events, (f"Added: {names}.", cost_words(session, events)))


def put_aside(session: Session, number: int) -> Correction:
    """A board waits until no other has a cut left."""
    return _ordered(session, board_event(ASIDE, session.walker.situation(), number))


def take_up(session: Session, number: int) -> Correction:
    """A board that was put aside takes its turn again."""
    return _ordered(session, board_event(TAKE_UP, session.walker.situation(), number))


def skip(session: Session, number: int) -> Correction:
    """A board comes last at this setting."""
    return _ordered(session, board_event(SKIP, session.walker.situation(), number))


def finish_first(session: Session, number: int) -> Correction:
    """All that is left on one board is done at once."""
    return _ordered(session, board_event(BOARD_FIRST, session.walker.situation(), number))


def set_first(session: Session, setting: int) -> Correction:
    """All that is left at one setting is done first."""
    if not session.walker.cuts_left(setting):
        raise CoachError(f"setting {setting + 1} has no cut left")
    return _ordered(session, (SETTING_FIRST, {"setting": setting}))


def _ordered(session: Session, event: NewEvent) -> Correction:
    return Correction((event,), (cost_words(session, (event,)),))


def change_shop(session: Session, shop: Shop, show: Show) -> Correction:
    """Another blade, jig, fence or scale from here on."""
    event = shop_event(shop, settings_for_shop(session.walker.situation(), shop, show))
    return Correction((event,), ("Settings that are begun keep their marks; the others are worked out anew.",))


def cost_words(session: Session, events: Sequence[NewEvent]) -> str:
    """What a change costs or saves in fence moves and in boards picked up, against going on as before."""
    walker = session.walker
    if walker.cuts_left_in_all > MOST_CUTS_PLANNED:
        return "The plan follows from what is cut."
    before = Totals.of(plan(walker.situation()))
    now = Totals.of(plan(session.after(events).situation()))
    parts = [
        f"{abs(more)} {'more' if more > 0 else 'fewer'} {what if abs(more) == 1 else what + 's'}"
        for more, what in (
            (now.moves - before.moves, "fence setting"),
            (now.pick_ups - before.pick_ups, "pick-up"),
            (now.turns.total() - before.turns.total(), "turn"),
        )
        if more
    ]
    return f"That makes {', '.join(parts)}." if parts else "That costs nothing."
