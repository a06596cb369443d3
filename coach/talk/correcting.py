"""Correcting an earlier cut: it wasn't made, or it went wrong in one of the ways in which cuts go wrong."""

from __future__ import annotations

from coach.ground.lengths import parse_length
from coach.plan.judging.mistakes import Mistake, Verdict
from coach.plan.steps import StepKind
from coach.record.batch import corrections
from coach.record.batch.events import step_of
from coach.record.batch.session import Session
from coach.record.kinds import WRONG
from coach.record.rows import Event
from coach.talk.asking import Asker, Choice
from coach.telling.naming import side_words
from coach.telling.phrases import Saying
from coach.telling.times import time_words

MOST_SHOWN = 200
INTO_TAIL, INTO_WASTE = "off the line, into the tail", "off the line, out in the waste"
_WAYS = (
    (Choice("n", "It wasn't really cut: a key too many"), None),
    (Choice("t", INTO_TAIL.capitalize()), Mistake.OFF_LINE),
    (Choice("w", INTO_WASTE.capitalize()), Mistake.OFF_LINE),
    (Choice("s", "On the wrong side of the line"), Mistake.WRONG_SIDE),
    (Choice("d", "Too deep"), Mistake.TOO_DEEP),
    (Choice("e", "With the wrong edge at the jig"), Mistake.WRONG_EDGE),
    (Choice("l", "With the wrong end leading"), Mistake.WRONG_END),
)
_VERDICTS = {
    Verdict.WITHIN: "Within tolerance: it stays as it is.",
    Verdict.CUT_AGAIN: "No tail is harmed: the cut is asked for again.",
    Verdict.COUNTS_AS: "It counts as another cut.",
    Verdict.MENDABLE: "The board can serve all the same.",
    Verdict.SPOILED: "The board is spoiled.",
}


async def correct(asker: Asker, session: Session, saying: Saying, board: int | None) -> str | None:
    """Asks which cut (of one board, or of any) and what of it, and records that; CoachError if it can't be."""
    cuts = _cuts(session, board)
    if not cuts:
        return "No cut stands that could be corrected."
    chosen = await asker.choose("Which cut?", [_cut_words(session, event) for event in cuts])
    if chosen is None:
        return None
    event = cuts[chosen]
    way = await asker.choose(f"{_cut_words(session, event)}: what of it?", [choice for choice, _ in _WAYS])
    if way is None:
        return None
    choice, mistake = _WAYS[way]
    if mistake is None:
        back = corrections.take_back(session, event)
        session.change(back.events)
        return " ".join((f"Taken back, and asked for again: {_which(session, event)}.", *back.lines))
    off_mm = 0.0
    if mistake in (Mistake.OFF_LINE, Mistake.TOO_DEEP):
        question = "How far past the baseline?" if mistake is Mistake.TOO_DEEP else "How far off the pencil line?"
        typed = await asker.enter(f"{question} Such as {saying.length(0.5)}", "", parse_length)
        if typed is None:
            return None
        off_mm = float(parse_length(typed)) * (-1 if choice.words.lower() == INTO_WASTE else 1)
    return await _judged(asker, session, saying, event, mistake, off_mm)


async def _judged(
    asker: Asker, session: Session, saying: Saying, event: Event, mistake: Mistake, off_mm: float
) -> str | None:
    """Tells what the mistake means, and records it, the board's end included, if the person agrees."""
    judgement, correction = corrections.cut_wrong(session, event, mistake, off_mm, saying.length)
    number = event.data["number"]
    choices = [Choice("y", "Yes, so it is")]
    if judgement.may_stay:
        choices = [
            Choice("m", "Move this end's baseline in"),
            Choice("k", "Leave the baseline: the overcut stays a slit"),
        ]
    if judgement.verdict is not Verdict.SPOILED and number not in session.walker.out:
        choices.append(Choice("s", "No, the board is spoiled"))
    lines = list(dict.fromkeys((*judgement.lines, *correction.lines)))
    agreed = await asker.choose(_VERDICTS[judgement.verdict], choices, lines)
    if agreed is None:
        return None
    if judgement.may_stay and agreed == 1:
        correction = corrections.left_as_it_is(session, event, mistake, off_mm)
    elif agreed == len(choices) - 1 and agreed > 0:
        spoiled = corrections.spoil(session, number, mistake.value)
        wrong = next(found for found in correction.events if found[0] == WRONG)
        correction = corrections.Correction((wrong, *spoiled.events), spoiled.lines)
    session.change(correction.events)
    return "\n".join((f"{_which(session, event)}:", *(correction.lines or (_VERDICTS[judgement.verdict],))))


def _cuts(session: Session, board: int | None) -> list[Event]:
    """The cuts that stand, the latest first."""
    undone = session.undone
    found = [
        event
        for event in reversed(session.events)
        if event.kind == StepKind.CUT and event.number not in undone and board in (None, event.data["number"])
    ]
    return found[:MOST_SHOWN]


def _cut_words(session: Session, event: Event) -> str:
    return f"{time_words(event.at, session.moment(), seconds=True)}  {_which(session, event)}"


def _which(session: Session, event: Event) -> str:
    """A cut by its board, as that is called now, and its side."""
    side = step_of(event).side
    assert side is not None
    return f"{session.job.board(side.board).label}, {side_words(side)}"
