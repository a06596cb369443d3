"""What of a plan is out of the reach of saw, fence and jig, each with by how much it fails."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from coach.ground.terms import End
from coach.joint.limits import Show
from coach.plan.geometry import lie_for
from coach.plan.job import Job, Pattern
from coach.plan.reach import PatternSide, past_blade_mm, swings_out_mm, too_far_forward_mm
from coach.plan.settings import Settings

NEAR = 1e-6  # mm: what rounding of floats may add up to


def reach_problems(job: Job, settings: Settings, show: Show) -> list[str]:
    """What is out of reach at which setting; empty if nothing is.

    The fence must be able to stand at F; the board must pass the column, where that stands across the blade from the
    fence, and where both are on one side the fence with its body must; a long board's trailing corner must not come up
    against a fence that reaches far forward.
    """
    found = fence_problems(job, settings, range(len(settings.fence_mm)), show)
    for pattern, serving in zip(job.patterns, settings.serves, strict=True):
        found += board_problems(job, settings, pattern, serving, show)
    return list(dict.fromkeys(found))


def fence_problems(job: Job, settings: Settings, which: Iterable[int], show: Show) -> list[str]:
    """At which of the settings (indices) the fence can't stand."""
    found = []
    for index in which:
        at = settings.fence_mm[index]
        shop = job.rigged(settings.rig(index)).shop
        fence, saw = shop.fence, shop.saw
        if at > fence.max_mm + NEAR:
            found.append(
                f"setting {index + 1}: the fence would stand {show(at)} from the kerf; it goes to "
                f"{show(fence.max_mm)}: {show(at - fence.max_mm)} short"
            )
        if at < fence.min_mm - NEAR:
            found.append(
                f"setting {index + 1}: the fence would stand {show(at)} from the kerf; it comes no nearer than "
                f"{show(fence.min_mm)}: {show(fence.min_mm - at)} too near"
            )
        if fence.side is saw.column_side and at + fence.body_mm > saw.throat_mm + NEAR:
            found.append(
                f"setting {index + 1}: fence and column are on one side and the fence needs "
                f"{show(at + fence.body_mm)}; the throat is {show(saw.throat_mm)}: "
                f"{show(at + fence.body_mm - saw.throat_mm)} short"
            )
    return found


def board_problems(
    job: Job, settings: Settings, pattern: Pattern, serving: Mapping[PatternSide, int], show: Show
) -> Iterator[str]:
    """What the throat, and the corner that trails on the jig's side, have against cutting these sides of a board, each
    at the setting that serves it."""
    part = pattern.part
    for setting in sorted(set(serving.values())):
        rigged = job.rigged(settings.rig(setting))
        jig, fence, saw = rigged.shop.jig, rigged.shop.fence, rigged.shop.saw
        at = settings.fence_mm[setting]
        over = past_blade_mm(rigged, pattern, at)
        sides = [side for side, index in serving.items() if index == setting]
        if fence.side is not saw.column_side and over > saw.throat_mm + NEAR:
            end, tail, faces = sides[0]
            mark = pattern.ends[end].mark_mm(tail, faces)
            edge = lie_for(jig, end, faces).edge
            yield (
                f'setting {setting + 1}: part "{part.label}" (mark {show(mark)}, {edge} edge at the jig) reaches '
                f"{show(over)} past the blade on the column's side; the throat is {show(saw.throat_mm)}: "
                f"{show(over - saw.throat_mm)} short"
            )
        ends: list[End] = list(dict.fromkeys(end for end, _, _ in sides))
        fouls = max(too_far_forward_mm(rigged, pattern, end, at) for end in ends)
        if fouls > NEAR:
            yield (
                f'setting {setting + 1}: part "{part.label}": the board\'s trailing corner swings '
                f"{show(swings_out_mm(rigged, pattern))} past the fence's face, and the fence reaches {show(fouls)} "
                f"further forward than it may (at most {show(fence.front_mm - fouls)} in front of the blade)"
            )
