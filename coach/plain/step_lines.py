"""What is said of a step, in the order in which a listener needs it, and of how far the batch is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from coach.plan.steps import Step
from coach.plan.walking.walker import Walker
from coach.record.batch.session import Session
from coach.talk.warning import backing_out, is_long, most_needed, procedure_at, reminders_at
from coach.telling.log.boards import BoardProgress, board_progress, total, when
from coach.telling.phrases import Saying, counted
from coach.telling.steps.done import done_lines
from coach.telling.steps.step import tell
from coach.trade.reminders import MANUAL, Reminder, cut_habits

KEY = "Enter"
MOST_BOARDS = 40
"""More boards than this aren't listed: the command that prints the log prints them all."""


@dataclass(frozen=True, slots=True)
class Care:
    """What is to be had in mind at a step, and how it is done."""

    reminders: tuple[Reminder, ...] = ()
    procedure: tuple[str, ...] = ()
    needed: int = 1

    @classmethod
    def at(cls, session: Session, step: Step) -> Care:
        """Of `step`, which is the one to do now."""
        return cls(reminders_at(session, step), procedure_at(session, step), most_needed(step))

    def lines(self) -> list[str]:
        """All of it, the gravest first."""
        how = ["How it is done:", *self.procedure] if self.procedure else []
        return [*map(_reminder, self.reminders), *how]

    def short(self) -> list[str]:
        """The gravest alone, at the fence the stop's as well: what is said over and over is never nothing nor much."""
        return [_reminder(reminder) for reminder in self.reminders[: self.needed]]


def step_lines(session: Session, step: Step, saying: Saying, said: Care, left_words: str = "") -> list[str]:
    """`step`, which is the one to do now: what it is, how the wood lies and what shows, what to mind, how far it is.

    Args:
        said: what was said at the step before; the same is not said in whole again.
        left_words: how long the cuts left will take, if that can be said.
    """
    told = tell(session.walker, step, saying, key=KEY)
    care = Care.at(session, step)
    minded = care.short() if care == said else care.lines()
    far = progress(session.walker)
    if left_words:
        far = f"{far} {left_words[0].upper()}{left_words[1:]}."
    return [f"{told.kind}. {told.headline}.", *told.lines, *minded, far]


def end_lines(session: Session, saying: Saying) -> list[str]:
    """What is said when the batch is done."""
    done = done_lines(session.walker, session.events, saying)
    return ["The batch is done.", *done, "Enter or q leaves; l says the log; u takes back the latest step."]


def progress(walker: Walker) -> str:
    """What is left at this setting, on how many boards, and how far the batch is."""
    cuts, left = walker.cuts_in_all, walker.cuts_left_in_all
    if not left:
        bench = walker.steps_at_bench
        return f"Bench: {bench - walker.steps_at_bench_left} of {bench} steps done, no cut is left."
    batch = f"Batch: {cuts - left} of {cuts} cuts done."
    setting = walker.fence.setting
    if setting is None:
        return batch
    here = walker.cuts_left(setting)
    if not here:
        return f"Setting {setting + 1}: all cut, a good place to stop. {batch}"
    boards = counted(walker.boards_left(setting), "board")
    return f"Setting {setting + 1}: {counted(here, 'cut')} left on {boards}. {batch}"


def log_lines(session: Session, now: datetime) -> list[str]:
    """How far the batch is in all, then what is done on each board, those alike in one line."""
    boards = board_progress(session.walker, session.events)
    cut, of = total(boards)
    cuts, bench = session.walker.cuts_left_in_all, session.walker.steps_at_bench_left
    lines = [
        f"Log of {session.name}.",
        f"{cut} of {of} boards all cut; left: {counted(cuts, 'cut')}, {counted(bench, 'step')} at the bench.",
    ]
    if len(boards) > MOST_BOARDS:
        return [*lines, "Too many boards to say them all; coach log with the batch's name prints them."]
    return lines + [f"{', '.join(labels)}: {state}." for state, labels in _alike(boards, now).items()]


def help_lines(session: Session, step: Step | None, commands: Iterable[tuple[str, str]]) -> list[str]:
    """What may be typed, what belongs to this step, and the habits of a good cut."""
    lines = ["What may be typed, each with Enter after it:", *(f"{key}: {does}" for key, does in commands)]
    if step is not None:
        lines += ["This step:", *Care.at(session, step).lines()]
    lines += ["A good cut:", *cut_habits(backing_out(session), step is not None and is_long(session, step)), MANUAL]
    return lines


def _alike(boards: Sequence[BoardProgress], now: datetime) -> dict[str, list[str]]:
    """The boards' labels by what is to be said of them."""
    found: dict[str, list[str]] = {}
    for board in boards:
        ends = ", ".join(f"end {end.words()}" for end in board.ends)
        parts = [
            board.notes,
            board.state,
            ends if board.done else "",
            when(board.last_cut, now) if board.last_cut else "",
        ]
        found.setdefault("; ".join(part for part in parts if part), []).append(board.label)
    return found


def _reminder(reminder: Reminder) -> str:
    return f"{reminder.signal.value}: {reminder.text}"
