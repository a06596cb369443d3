"""The kerfs in a board's wood that stand for none of its sides, as the record has them."""

from __future__ import annotations

from dataclasses import replace

from coach.ground.terms import Edge, End, Side
from coach.plan.judging.mistakes import Mistake, Verdict
from coach.plan.judging.stray_kerfs import StrayKerf, stray_kerf
from coach.plan.steps import StepKind
from coach.record.batch.events import fold, step_of
from coach.record.batch.session import Session
from coach.record.batch.taking_back import undone_numbers
from coach.record.kinds import SPOIL, WRONG
from coach.record.rows import Event

_NOT_WHERE_MEANT = (Verdict.CUT_AGAIN, Verdict.COUNTS_AS)


def strays_of(session: Session, number: int) -> list[StrayKerf]:
    """The stray kerfs of a board: of its cuts that were said to be somewhere else than where they were meant."""
    found: list[StrayKerf] = []
    undone = session.undone
    for event in session.events:
        if event.number in undone:
            continue
        data = event.data
        if event.kind == WRONG and data["number"] == number and Verdict(data["verdict"]) in _NOT_WHERE_MEANT:
            side = Side(number, End(data["end"]), data["tail"], Edge(data["faces"]))
            cut = _cut_meant(session, event, side)
            then = fold([earlier for earlier in session.events if earlier.number < cut.number])
            found.append(stray_kerf(then, side, Mistake(data["mistake"]), data["off_mm"]))
        elif event.kind == SPOIL and data.get("relettered") and data["spare"] == number:
            found = [replace(stray, end=stray.end.other) for stray in found]
    return found


def _cut_meant(session: Session, wrong: Event, side: Side) -> Event:
    """The cut of which an event says that it went wrong: the latest of its side that stood then."""
    before = [event for event in session.events if event.number < wrong.data.get("key", wrong.number)]
    undone = undone_numbers(before)
    cuts = [event for event in before if event.kind == StepKind.CUT and step_of(event).side == side]
    return next((cut for cut in reversed(cuts) if cut.number not in undone), cuts[-1])
