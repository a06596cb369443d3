"""A small batch under way in a record, and a clock that stands."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

from support.small_jobs import two_tails

from coach.plan.deciding.decide import decide
from coach.plan.steps import Step, StepKind
from coach.plan.walking.alike_ends import first_topics
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan
from coach.record.batch.session import Session

MORNING = datetime(2031, 3, 4, 9, 30, 0, 0, timezone(timedelta(hours=-5)))
JOB = two_tails(boards=2)
SETTINGS = decide(JOB)
BEFORE_FIRST_CUT = len(first_topics(JOB)) + 2
"""Steps before the first cut: what is prepared, then fence and scrap cut."""
ALL_STEPS = len(list(plan(beginning(JOB, SETTINGS))))


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.time = MORNING

    def __call__(self) -> datetime:
        return self.time


class Ticking(Clock):
    """A clock that goes on by a second each time it is looked at."""

    def __call__(self) -> datetime:
        self.time += timedelta(seconds=1)
        return self.time


def upcoming(session: Session) -> Step:
    """The step to do now, of a batch that isn't done."""
    step = session.next()
    assert step is not None
    return step


def go(session: Session, steps: int) -> None:
    """Does so many steps, each scrap cut found right."""
    for _ in range(steps):
        session.complete(upcoming(session))


def go_to(session: Session, kind: StepKind) -> Step:
    """Goes on to the next step of a kind, which is left to do."""
    while upcoming(session).kind is not kind:
        go(session, 1)
    return upcoming(session)
