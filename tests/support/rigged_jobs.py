"""Jobs for shops with several fences and jigs, and their plans carried out by the independent rigid saw."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from support.rigid_board import Board as RigidBoard
from support.rigid_board import EndDesign, SideKey
from support.rigid_board import Jig as RigidJig
from support.rigid_saw import replay
from support.small_jobs import ONE_IN_EIGHT, joint, part
from support.small_jobs import job as job_of

from coach.ground.terms import End, Hand
from coach.joint.layout import EndLayout
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan
from coach.shop.tools import Fence, Jig, Saw, Shop
from coach.telling.phrases import Saying
from coach.telling.plan.as_json import plan_as_json

KERF_MM = 0.9


def fence(side: Hand, most_mm: float, *, least_mm: float = 0.0, front_mm: float = 0.0, body_mm: float = 0.0) -> Fence:
    """A fence without a scale."""
    return Fence(side, least_mm, most_mm, front_mm, body_mm, None, 0.0)


def jig(name: str, width_mm: float, *, wide_leads: bool = True) -> Jig:
    """A jig of one in eight."""
    return Jig(name, ONE_IN_EIGHT, width_mm, wide_leads, 150.0, 6.0)


def shop(fences: Sequence[Fence], jigs: Sequence[Jig], *, throat_mm: float = 900.0) -> Shop:
    """A saw whose column stands at the left."""
    return Shop(Saw(KERF_MM, Hand.LEFT, throat_mm, "stopped"), tuple(fences), tuple(jigs))


def even_end(width_mm: float, tails: int, half_pin_mm: float, pin_mm: float) -> EndLayout:
    """An evenly spaced end."""
    tail = (width_mm - 2 * half_pin_mm - (tails - 1) * pin_mm) / tails
    return joint([half_pin_mm + number * (tail + pin_mm) for number in range(tails)])


def panel(tools: Shop, *, boards: int = 2, width_mm: float = 300.0, tails: int = 5, ends: str = "both") -> Job:
    """Panels with evenly spaced tails."""
    end = even_end(width_mm, tails, 8.0, 8.0)
    which = {End.A: end, End.B: end} if ends == "both" else {End.A: end}
    return job_of([part(which, label="panel", boards=boards, width_mm=width_mm, length_mm=400.0)], tools)


def rigidly(job: Job, settings: Settings) -> dict[SideKey, float]:
    """Carries out the plan, as it stands in its JSON, with rigid boards and Shapely; raises where wood is spoiled."""
    steps = list(plan(beginning(job, settings)))
    told: dict[str, Any] = plan_as_json(job, settings, steps, Saying("mm", None))
    boards = [
        RigidBoard(
            board.label,
            pattern.part.width_mm,
            pattern.part.length_mm,
            pattern.part.thickness_mm,
            {
                end.value: EndDesign(one.tail_length_mm, one.top_marks_mm, one.bottom_marks_mm)
                for end, one in pattern.ends.items()
            },
            shift_mm=max(job.rigged(rig).tolerance_mm(pattern) for rig in range(job.shop.rigs)) + 1e-6,
        )
        for board in job.boards
        for pattern in (job.patterns[board.pattern],)
    ]
    jigs = {
        one.name: RigidJig(one.slope, one.leading_width_mm, "wide" if one.wide_leads else "narrow", one.length_mm)
        for one in job.shop.jigs
    }
    return replay(boards, job.shop.saw.kerf_mm, jigs, told["settings"], told["steps"])
