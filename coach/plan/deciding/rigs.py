"""Which rig of the shop, a pair of a fence and a jig, cuts which side: with the fewest changes from rig to rig."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from coach.joint.limits import NEAR_SLOPES
from coach.plan.deciding.cover import Want, fewest_on_lines
from coach.plan.job import Job
from coach.plan.reach import PatternSide, fence_interval, reaches

Key = tuple[int, PatternSide]
"""A side of the boards of a pattern (an index)."""


def rigs_by_side(job: Job) -> dict[Key, int]:
    """The rig that cuts each side of each pattern.

    That is the rig in use for all of them, if it reaches them all. Else the fewest rigs that do together, so that the
    saw is changed over as rarely as can be; of those the fewest whose jig leads with its narrow end, since feeding
    draws a board off such a jig; of those the ones with the fewest fence settings. If no rigs do, the rig in use is
    given for all, and what it can't reach is for `reach_problems` to say.
    """
    keys = [(index, side) for index, pattern in enumerate(job.patterns) for side in pattern.sides()]
    if all(reaches(job, job.patterns[index], side) for index, side in keys):
        return dict.fromkeys(keys, 0)
    reach = reach_of_rigs(job, keys)
    together = frozenset().union(*reach.values()) if reach else frozenset()
    if len(together) < len(keys):
        return dict.fromkeys(keys, 0)
    for count in range(1, len(reach) + 1):
        enough = [
            rigs
            for rigs in combinations(reach, count)
            if len(frozenset().union(*(reach[r] for r in rigs))) == len(keys)
        ]
        if enough:
            return min((_shared(job, keys, rigs, reach) for rigs in enough), key=lambda found: found[0])[1]
    raise AssertionError("all rigs together reach every side")


def usable_rigs(job: Job) -> list[int]:
    """The rigs whose jig has the slope of the jig in use, and that of every layout that says for which it is drawn."""
    slopes = [job.shop.jig.slope, *(layout.slope for layout in job.layouts if layout.slope is not None)]
    return [
        rig
        for rig in range(job.shop.rigs)
        if all(abs(job.shop.rigged(rig).jig.slope - slope) <= NEAR_SLOPES for slope in slopes)
    ]


def reach_of_rigs(job: Job, keys: Sequence[Key]) -> dict[int, frozenset[Key]]:
    """What each rig reaches; of rigs that reach the same with jigs of one kind the first in the shop's order."""
    found: dict[int, frozenset[Key]] = {}
    seen: set[tuple[frozenset[Key], bool]] = set()
    for rig in usable_rigs(job):
        rigged = job.rigged(rig)
        reached = frozenset((index, side) for index, side in keys if reaches(rigged, job.patterns[index], side))
        kind = (reached, rigged.shop.jig.wide_leads)
        if reached and kind not in seen:
            seen.add(kind)
            found[rig] = reached
    return found


def _shared(
    job: Job, keys: Sequence[Key], rigs: tuple[int, ...], reach: dict[int, frozenset[Key]]
) -> tuple[tuple[int, int, tuple[int, ...]], dict[Key, int]]:
    """What a set of rigs costs, to be compared, and which of them cuts each side: the first that has a setting for it
    among the fewest."""
    wants: dict[Key, Want] = {}
    for index, side in keys:
        wants[index, side] = tuple(
            fence_interval(job.rigged(rig), job.patterns[index], side) if (index, side) in reach[rig] else None
            for rig in rigs
        )
    points = fewest_on_lines(list(wants.values()))
    share = {}
    for key, want in wants.items():
        share[key] = next(
            rigs[line] for line, point in points if (interval := want[line]) is not None and interval.holds(point)
        )
    narrow = sum(not job.rigged(rig).shop.jig.wide_leads for rig in rigs)
    return (narrow, len(points), rigs), share
