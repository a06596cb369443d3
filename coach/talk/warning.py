"""The reminders and the procedure of a step, as the shop's saw and the board in hand ask for them."""

from __future__ import annotations

from coach.lengths import show_length
from coach.plan.steps import Step, StepKind
from coach.record.session import Session
from coach.trade.reminders import Reminder, procedure, reminders

LONG_BOARD_MM = 900.0
"""A board longer than this overhangs a bandsaw's table so far that it wants support."""


def reminders_at(session: Session, step: Step) -> tuple[Reminder, ...]:
    """What to have in mind at `step`, the one to do now; the gravest first."""
    walker = session.walker
    return reminders(
        step.kind.value,
        topic=step.topic,
        backing_out=backing_out(session),
        long_board=is_long(session, step),
        last=walker.cuts_left_in_all == 0 and walker.steps_at_bench_left == 1,
    )


def procedure_at(session: Session, step: Step) -> tuple[str, ...]:
    """How `step` is done, in order; nothing for what is prepared, which has its checklist."""
    return procedure(step.kind.value, backing_out=backing_out(session), long_board=is_long(session, step))


def stop_words(session: Session, step: Step) -> str:
    """How far the jig's stop may reach, where the fence is set; else nothing."""
    if step.kind is not StepKind.SET_FENCE or step.setting is None:
        return ""
    room_mm = session.walker.settings.stop_room_mm(session.job, step.setting)
    return (
        f"The jig's stop may reach less than {show_length(room_mm, session.unit)} past its tip, or the blade meets it."
    )


def backing_out(session: Session) -> str:
    """The shop's way of drawing a board back from the blade."""
    return session.job.shop.saw.backing_out


def is_long(session: Session, step: Step) -> bool:
    """Whether the board in hand, or any of the batch where none is in hand, overhangs the table."""
    number = step.side.board if step.side is not None else step.board
    parts = session.job.patterns if number is None else (session.job.pattern_of(number),)
    return any(pattern.part.length_mm > LONG_BOARD_MM for pattern in parts)
