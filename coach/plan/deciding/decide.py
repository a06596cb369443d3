"""Decides the fence settings of a batch, once, before it starts."""

from __future__ import annotations

from coach.plan.deciding.fewest import fewest_fences
from coach.plan.deciding.rigs import rigs_by_side
from coach.plan.job import Job
from coach.plan.reach import fence_interval, scale_grid
from coach.plan.settings import Settings, one_cut_each


def decide(job: Job, *, smallest_first: bool = False) -> Settings:
    """The fewest settings that serve all sides of all boards within tolerance, by default the largest mark first.

    Where a setting can stand on a graduation it does; the reading of any other is shown with its rest. Where the rig in
    use can't reach all sides, others of the shop take part (`rigs.py`), each in one go. CoachError if the tolerance is
    so wide that one setting would make two cuts from one edge.
    """
    shares = rigs_by_side(job)
    wants = {
        (index, side): fence_interval(job.rigged(rig), job.patterns[index], side)
        for (index, side), rig in shares.items()
    }
    order: list[tuple[int, float]] = []
    stands = {}
    for rig in sorted(set(shares.values())):
        mine = {interval: None for key, interval in wants.items() if shares[key] == rig}
        stands[rig] = fewest_fences(mine, scale_grid(job.rigged(rig)))
        order += [(rig, fence) for fence in sorted(set(stands[rig].values()), reverse=not smallest_first)]
    rank = {place: number for number, place in enumerate(order)}
    serves = tuple(
        {side: rank[shares[index, side], stands[shares[index, side]][wants[index, side]]] for side in pattern.sides()}
        for index, pattern in enumerate(job.patterns)
    )
    rigs = tuple(rig for rig, _ in order)
    settings = Settings(
        tuple(fence for _, fence in order), serves, smallest_first=smallest_first, rigs=rigs if any(rigs) else ()
    )
    for pattern, serving in zip(job.patterns, serves, strict=True):
        one_cut_each(job, settings, pattern, serving)
    return settings
