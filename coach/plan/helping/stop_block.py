"""A stop block on the jig's travel, so that every cut ends at the baseline.

On the saw's table a cut at a mark m, from the edge at the jig, has reached the baseline once the jig has brought the
board's leading corner m sin θ + L / cos θ past the blade (L the tail length): the end slants back from that corner by
sin θ, and the cut runs along the side of the tail. With a narrow-leading jig the end slants forward instead, and it is
L / cos θ - m sin θ. So from setting to setting the stop moves by (m₂ - m₁) sin θ, or the other way, and for each tail
length there is a stop of its own. The kerf's bottom is square to the travel, which makes its corner in the waste
k sin θ deeper than the one on the mark, whatever the mark.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coach.ground.terms import End
from coach.plan.geometry import cut_length_mm, mark_at_fence_mm
from coach.plan.job import Job, Pattern
from coach.plan.settings import Settings
from coach.shop.tools import Jig

SAME_MM = 0.001  # tails that differ by less in length share a stop


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop.

    Attributes:
        cut_mm: how long a cut is, along the side of the tail.
        beyond_mm: how much further from the person it stands than the first stop.
        ends: the patterns' ends whose tails it serves.
    """

    tail_length_mm: float
    cut_mm: float
    beyond_mm: float
    ends: tuple[tuple[Pattern, End], ...]


@dataclass(frozen=True, slots=True)
class StopMove:
    """Where the stops go at one setting.

    Attributes:
        mark_mm: at which the setting cuts, from the edge at the jig.
        move_mm: how far every stop moves from the setting before, away from the person; None at a rig's first setting.
        stops: indices of the stops that are used at it.
    """

    mark_mm: float
    move_mm: float | None
    stops: tuple[int, ...]


def stop_move_mm(jig: Jig, from_mark_mm: float, to_mark_mm: float) -> float:
    """How far the stop moves, away from the person, from one mark to another, both from the edge at the jig."""
    move = (to_mark_mm - from_mark_mm) * math.sin(jig.slope)
    return move if jig.wide_leads else -move


def corner_mm(job: Job) -> float:
    """How much deeper the kerf's corner in the waste is than the one on the mark."""
    return job.shop.saw.kerf_mm * math.sin(job.shop.jig.slope)


def stops(job: Job) -> list[Stop]:
    """A stop for each tail length, the shortest first."""
    alike: list[tuple[float, list[tuple[Pattern, End]]]] = []
    used = [job.patterns[index] for index in job.used_patterns]
    ends = [(joint.tail_length_mm, pattern, end) for pattern in used for end, joint in pattern.ends.items()]
    for length, pattern, end in sorted(ends, key=lambda found: found[0]):
        if not alike or length - alike[-1][0] > SAME_MM:
            alike.append((length, []))
        alike[-1][1].append((pattern, end))
    first = cut_length_mm(job.shop.jig, alike[0][0])
    found = []
    for length, served in alike:
        cut = cut_length_mm(job.shop.jig, length)
        found.append(Stop(length, cut, cut - first, tuple(served)))
    return found


def stop_moves(job: Job, settings: Settings, found: Sequence[Stop]) -> list[StopMove]:
    """Where the stops go at each setting, in order."""
    stop_of = {(id(pattern), end): index for index, stop in enumerate(found) for pattern, end in stop.ends}
    used: list[set[int]] = [set() for _ in settings.fence_mm]
    for number in job.used_patterns:
        pattern = job.patterns[number]
        for (end, _, _), setting in settings.serves[number].items():
            used[setting].add(stop_of[id(pattern), end])
    moves: list[StopMove] = []
    for setting, indices in enumerate(used):
        jig = job.rigged(settings.rig(setting)).shop.jig
        mark = mark_at_fence_mm(jig, job.shop.saw.kerf_mm, settings.fence_mm[setting])
        alike = setting > 0 and settings.rig(setting) == settings.rig(setting - 1)
        move = stop_move_mm(jig, moves[-1].mark_mm, mark) if alike else None
        moves.append(StopMove(mark, move, tuple(sorted(indices))))
    return moves
