"""Batches under way that are to be changed: small layouts, shops for them, and what is ahead."""

from __future__ import annotations

from dataclasses import replace

from support.small_batches import go, go_to
from support.small_jobs import job, joint, part, shop, two_tails

from coach.ground.terms import End, Hand
from coach.plan.deciding.decide import decide
from coach.plan.helping.totals import Totals
from coach.plan.job import Job
from coach.plan.steps import Step, StepKind
from coach.plan.walking.walker import plan
from coach.record.batch.corrections import Correction
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.shop.tools import Shop


def begun(store: Store, made: Job) -> Session:
    """A batch of which nothing is done."""
    return start(store, "drawers", made, decide(made), "mm")


def changed(session: Session, correction: Correction) -> str:
    """Records a correction; what the person is told."""
    session.change(correction.events)
    return " ".join(correction.lines)


def ahead(session: Session) -> list[Step]:
    """The plan from here."""
    return list(plan(session.walker.situation()))


def moves(session: Session) -> int:
    """How many fence settings the plan from here has."""
    return Totals.of(ahead(session)).moves


def past(session: Session, settings: int) -> None:
    """Goes on until so many settings have passed and the fence stands at the next."""
    for _ in range(settings + 1):
        go_to(session, StepKind.SET_FENCE)
        go(session, 1)


def finished_board(session: Session, number: int, correction: Correction) -> None:
    """Records that a board is to be finished first, and cuts all of it."""
    session.change(correction.events)
    while session.walker.board_cuts_left(number):
        go(session, 1)


def tools(kerf_mm: float, width_mm: float, side: Hand, graduation: str | None, *, wide_leads: bool) -> Shop:
    """A shop that reaches any of the layouts here."""
    return shop(
        kerf_mm=kerf_mm,
        leading_width_mm=width_mm,
        fence_side=side,
        graduation_mm=graduation,
        zero_mm=3.0 if graduation else 0.0,
        wide_leads=wide_leads,
        throat_mm=900.0,
        front_mm=30.0,
    )


def several(using: Shop) -> Shop:
    """The same shop with a fence that ends too soon, a second one across the blade, and a second jig that leads with
    its other end: marks up to some 18 mm are in reach of the one, marks from some 22 mm on in reach of the other."""
    jig = using.jig
    runs, width = (16.0, jig.leading_width_mm - 20.0) if jig.wide_leads else (35.0, jig.leading_width_mm + 16.0)
    ends = replace(using.fence, max_mm=jig.leading_width_mm + runs)
    side = Hand.LEFT if ends.side is Hand.RIGHT else Hand.RIGHT
    across = replace(ends, side=side, max_mm=ends.max_mm + 1.0)
    second = replace(jig, name="second jig", wide_leads=not jig.wide_leads, leading_width_mm=width)
    return replace(using, fences=(ends, across), jigs=(jig, second))


def even(using: Shop) -> Job:
    """Two even tails at both ends, and a spare."""
    return two_tails(using, boards=2, spares=1)


def uneven(using: Shop) -> Job:
    """Lefts and rights, each end laid out in its own way, and a part with tails at one end."""
    ends = {End.A: joint((5.0, 27.0), (6.0, 31.2)), End.B: joint((8.0,), (9.5,), mates_with_mm=15.0)}
    back = part({End.B: joint((5.1, 30.4), (5.0, 30.2))}, label="back", boards=1, spares=1)
    return job([part(ends, boards=2, spares=1, handed=True), back], using)


def tolerant(using: Shop) -> Job:
    """Marks so near each other that a setting serves several, and narrow sockets."""
    ends = {End.A: joint((3.0, 29.5), (3.2, 29.6)), End.B: joint((3.1, 29.3))}
    return job([part(ends, boards=2, spares=1, widest_mm=57.1)], using, tolerance_mm=0.25)
