"""How far the jig's stop may reach: a blade that meets a screw or a metal lip is the worst accident with such a jig."""

from __future__ import annotations

from coach.ground.lengths import Unit, show_length
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.telling.phrases import Saying
from coach.trade.reminders import Reminder, Signal

LESS = {"mm": 0.005, "in": 0.0127}
"""What a length as shown may be more than it is; a limit is shown no larger than it is."""


def stop_reminder(room_mm: float, unit: Unit) -> Reminder:
    """The warning at the fence.

    Args:
        room_mm: from the jig's tip to the kerf that comes nearest to it (`Settings.stop_room_mm`).
    """
    most = show_length(max(0.0, room_mm - LESS[unit]), unit)
    return Reminder(Signal.WARNING, f"A stop {most} past the jig's tip meets the blade. Keep it shorter.")


def stop_limits(job: Job, settings: Settings, saying: Saying) -> list[str]:
    """The same for a whole plan, a sentence for each fence and jig that takes part."""
    firsts = [setting for setting in range(len(settings.fence_mm)) if settings.move_mm(setting) is None]
    said: dict[str, None] = {}
    for setting in firsts:
        most = show_length(max(0.0, settings.stop_room_mm(job, setting) - LESS[saying.unit]), saying.unit)
        with_jig = f" of jig “{job.rigged(settings.rig(setting)).shop.jig.name}”" if len(firsts) > 1 else ""
        words = f"WARNING: the stop{with_jig} must reach less than {most} past the jig's tip, or the blade meets it."
        said[words] = None
    return list(said)


def rooms_mm(job: Job, settings: Settings) -> list[float]:
    """For each setting how far the stop of its jig may reach past the jig's tip, in mm; less than that."""
    return [settings.stop_room_mm(job, setting) for setting in range(len(settings.fence_mm))]
