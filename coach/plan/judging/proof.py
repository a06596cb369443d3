"""Decides the settings of a job and proves them before any wood is cut."""

from __future__ import annotations

from coach.ground.errors import CoachError
from coach.joint.limits import Show
from coach.plan.deciding.decide import decide
from coach.plan.job import Job
from coach.plan.judging.reach_problems import reach_problems
from coach.plan.judging.virtual_saw import faults
from coach.plan.settings import Settings
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import plan


class OutOfReachError(CoachError):
    """The saw can't reach what a layout asks for."""


def proven_settings(job: Job, show: Show, *, smallest_first: bool = False) -> Settings:
    """The settings for `job`; OutOfReachError if the saw can't reach, CoachError if the virtual saw finds that a tail
    would be spoiled.

    Args:
        show: how a length in mm is shown.
    """
    settings = decide(job, smallest_first=smallest_first)
    out_of_reach = reach_problems(job, settings, show)
    problems = faults(job, settings, plan(beginning(job, settings)), show)
    if out_of_reach:
        raise OutOfReachError(*out_of_reach, *problems)
    if problems:
        raise CoachError(*problems)
    return settings
