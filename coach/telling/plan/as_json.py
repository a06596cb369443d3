"""The plan as JSON: the contract that other programs may rely on. Lengths in mm, as unrounded floats."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.plan.steps import Step, StepKind
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.telling.phrases import Saying, reading_at
from coach.telling.plan.totals import totals_as_json

FORMAT = 1


def plan_as_json(job: Job, settings: Settings, steps: Sequence[Step], saying: Saying) -> dict[str, Any]:
    """The whole plan as plain JSON values."""
    walker = Walker(beginning(job, settings))
    rigged = [walker.job_at(index).shop for index in range(len(settings.fence_mm))]
    return {
        "format": FORMAT,
        "batch": {
            "boards": len(job.boards),
            "spares": sum(board.spare for board in job.boards),
            "cuts": job.cuts,
        },
        "shop": {"sample": job.shop.sample},
        "settings": [
            {
                "setting": index + 1,
                "fence_mm": fence,
                "reading": reading_at(walker, index, saying),
                "move_mm": settings.move_mm(index),
                "cuts": walker.cuts_at(index),
                "jig": rigged[index].jig.name,
                "fence_side": rigged[index].fence.side.value,
            }
            for index, fence in enumerate(settings.fence_mm)
        ],
        "steps": [{"step": number, **step_as_json(job, step)} for number, step in enumerate(steps, 1)],
        "totals": totals_as_json(job, steps),
    }


def step_as_json(job: Job, step: Step) -> dict[str, Any]:
    """One step, with what belongs to its kind."""
    found: dict[str, Any] = {"kind": step.kind.value}
    if step.setting is not None:
        found["setting"] = step.setting + 1
    if step.kind is StepKind.PREPARE:
        found["topic"] = step.topic
    elif step.kind is StepKind.CHECK:
        found["mark_mm"] = step.mark_mm
    elif step.side is not None and step.edge is not None and step.face_up is not None:
        found |= {
            "board": job.board(step.side.board).label,
            "end": step.side.end.value,
            "tail": step.side.tail,
            "faces": step.side.faces.value,
            "edge": step.edge.value,
            "face_up": step.face_up.value,
            "mark_mm": step.mark_mm,
            "turn": None if step.turn is None else step.turn.value,
        }
    elif step.board is not None and step.end is not None:
        found |= {"board": job.board(step.board).label, "end": step.end.value}
    return found
