"""What is done on each board of a batch, and when: shared by the printed log and the log on the screen."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from coach.ground.terms import End
from coach.plan.steps import BENCH_KINDS, StepKind
from coach.plan.walking.walker import Walker
from coach.record.batch.taking_back import undone_numbers
from coach.record.kinds import DROP, SPOIL
from coach.record.rows import Event
from coach.telling.times import time_words

BENCH_WORDS = {
    StepKind.CLEAR: "cleared",
    StepKind.TRANSFER: "marked",
    StepKind.SAW_PIN: "sawn",
    StepKind.FIT: "fitted",
}

_OUT_WORDS = {SPOIL: "spoiled", DROP: "left out"}


@dataclass(frozen=True, slots=True)
class EndProgress:
    """One end of a board: its cuts, and how far its corner has come at the bench."""

    end: End
    cuts: int
    done: int
    bench: tuple[StepKind, ...]

    def words(self) -> str:
        """Such as "A 3 of 4", "A cut", "A fitted"."""
        if self.bench:
            return f"{self.end} {BENCH_WORDS[self.bench[-1]]}"
        return f"{self.end} cut" if self.done == self.cuts else f"{self.end} {self.done} of {self.cuts}"


@dataclass(frozen=True, slots=True)
class BoardProgress:
    """One board: what of it is cut, when it was last cut, and whether it is out of the batch."""

    number: int
    label: str
    notes: str
    cuts: int
    done: int
    ends: tuple[EndProgress, ...]
    last_cut: str | None
    out: bool

    @property
    def state(self) -> str:
        """Such as "all cut" or "5 of 8"."""
        if self.done == self.cuts:
            return "all cut"
        return f"{self.done} of {self.cuts}" if self.done else "not begun"


def board_progress(walker: Walker, events: Sequence[Event]) -> list[BoardProgress]:
    """Every board of a batch, in order, those that are out as well."""
    job = walker.job
    undone = undone_numbers(events)
    cut: dict[tuple[int, str], set[tuple[int, str]]] = {}
    last: dict[int, str] = {}
    bench: dict[tuple[int, str], list[StepKind]] = {}
    gone = (event for event in events if event.kind in _OUT_WORDS and event.number not in undone)
    out = {event.data["number"]: _OUT_WORDS[event.kind] for event in gone}
    for event in events:
        if event.number in undone:
            continue
        if event.kind == StepKind.CUT:
            key = (event.data["number"], event.data["end"])
            cut.setdefault(key, set()).add((event.data["tail"], event.data["faces"]))
            last[event.data["number"]] = event.at
        elif event.kind in BENCH_KINDS:
            bench.setdefault((event.data["number"], event.data["end"]), []).append(StepKind(event.kind))
    found = []
    for board in job.boards:
        pattern = job.patterns[board.pattern]
        ends = tuple(
            EndProgress(
                end,
                2 * joint.tails,
                len(cut.get((board.number, end.value), ())),
                tuple(bench.get((board.number, end.value), ())),
            )
            for end, joint in pattern.ends.items()
        )
        notes = (
            pattern.hand,
            "spare" if board.spare else None,
            out.get(board.number),
            "put aside" if board.number in walker.aside else None,
        )
        found.append(
            BoardProgress(
                board.number,
                board.label,
                ", ".join(note for note in notes if note),
                sum(end.cuts for end in ends),
                sum(end.done for end in ends),
                ends,
                last.get(board.number),
                board.number in walker.out,
            )
        )
    return found


def when(at: str, now: datetime) -> str:
    """A moment as a person says it."""
    return time_words(at, now, today="today")


def total(boards: Iterable[BoardProgress]) -> tuple[int, int]:
    """How many boards are all cut, and how many the batch has, without those that are out."""
    everything = [board for board in boards if not board.out]
    return sum(board.done == board.cuts for board in everything), len(everything)
