"""The reminders and the procedure of a step, as the shop's saw and the board in hand ask for them."""

from __future__ import annotations

from coach.plan.steps import Step, StepKind
from coach.record.batch.session import Session
from coach.telling.steps.stop import stop_reminder
from coach.trade.reminders import Reminder, procedure, reminders

LONG_BOARD_MM = 900.0
"""A board longer than this overhangs a bandsaw's table so far that it wants support."""


def reminders_at(session: Session, step: Step) -> tuple[Reminder, ...]:
    """What to have in mind at `step`, the one to do now; the gravest first."""
    walker = session.walker
    found = reminders(
        step.kind.value,
        topic=step.topic,
        backing_out=backing_out(session),
        long_board=is_long(session, step),
        last=walker.cuts_left_in_all == 0 and walker.steps_at_bench_left == 1,
    )
    if step.kind is not StepKind.SET_FENCE or step.setting is None:
        return found
    # That a fence may creep as it locks stands in the procedure as well.
    return found[0], stop_reminder(walker.settings.stop_room_mm(session.job, step.setting), session.unit)


def procedure_at(session: Session, step: Step) -> tuple[str, ...]:
    """How `step` is done, in order; nothing for what is prepared, which has its checklist."""
    return procedure(step.kind.value, backing_out=backing_out(session), long_board=is_long(session, step))


def most_needed(step: Step) -> int:
    """How many of the reminders at a step must be seen, whatever the room: the gravest, and at the fence the one about
    the jig's stop, which the blade must not meet."""
    return 2 if step.kind is StepKind.SET_FENCE else 1


def backing_out(session: Session) -> str:
    """The shop's way of drawing a board back from the blade."""
    return session.job.shop.saw.backing_out


def is_long(session: Session, step: Step) -> bool:
    """Whether the board in hand, or any of the batch where none is in hand, overhangs the table."""
    number = step.side.board if step.side is not None else step.board
    parts = session.job.patterns if number is None else (session.job.pattern_of(number),)
    return any(pattern.part.length_mm > LONG_BOARD_MM for pattern in parts)
