"""Whether the saw, the fence and the jig can do what a plan asks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from coach.joint.limits import Show
from coach.plan.geometry import fence_for_mark_mm, fence_range_mm, lie_for, mark_from_jig_mm
from coach.plan.job import Job, Pattern
from coach.plan.settings import PatternSide, Settings

NEAR = 1e-9


def reach_problems(job: Job, settings: Settings, show: Show) -> list[str]:
    """What is out of reach, each with by how much it fails; empty if nothing is.

    The fence must be able to stand at F. Beyond the blade the board takes (w - m) cos θ + k, with a narrow-leading jig
    its length times sin θ more, since its far edge then slants towards the column. Where the column is on that side
    the throat bounds it, and the smallest mark is the worst. Where the fence stands on the column's side, F and the
    fence's own body are bounded instead.
    """
    found = fence_problems(job, settings, range(len(settings.fence_mm)), show)
    for pattern, serving in zip(job.patterns, settings.serves, strict=True):
        said = board_problems(job, settings, pattern, serving, show)
        found += [problem for problem in said if problem not in found]
    return found


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
) -> list[str]:
    """What the throat, and the corner that trails on the jig's side, have against cutting these sides of a board, each
    at the setting that serves it."""
    found, rigs = [], set()
    part = pattern.part
    for setting in sorted(set(serving.values())):
        rig = settings.rig(setting)
        rigged = job.rigged(rig)
        jig, fence, saw = rigged.shop.jig, rigged.shop.fence, rigged.shop.saw
        sides = [side for side, at in serving.items() if at == setting]
        worst = max(sides, key=lambda side: past_blade_mm(rigged, pattern, side))
        most = past_blade_mm(rigged, pattern, worst)
        if fence.side is not saw.column_side and most > saw.throat_mm + NEAR:
            end, tail, faces = worst
            mark = mark_from_jig_mm(jig, pattern.ends[end], part.width_mm, tail, faces)
            found.append(
                f'setting {setting + 1}: part "{part.label}" (end {end}, {lie_for(jig, end, faces).edge} edge at the '
                f"jig, mark {show(mark)}) reaches {show(most)} past the blade on the column's side; the throat is "
                f"{show(saw.throat_mm)}: {show(most - saw.throat_mm)} short"
            )
        fouls = max(too_far_forward_mm(rigged, pattern, side) for side in sides)
        if fouls > 0 and rig not in rigs:
            rigs.add(rig)
            with_rig = [side for side, at in serving.items() if settings.rig(at) == rig]
            fouls = max(too_far_forward_mm(rigged, pattern, side) for side in with_rig)
            swing = part.length_mm * math.sin(jig.slope) - jig.leading_width_mm
            found.append(
                f"part \"{part.label}\": the board's trailing corner swings {show(swing)} past the fence's face, and "
                f"the fence reaches {show(fouls)} further forward than it may (at most {show(fence.front_mm - fouls)} "
                "in front of the blade): a wider jig or a shorter fence"
            )
    return found


def reaches(job: Job, pattern: Pattern, side: PatternSide) -> bool:
    """Whether the rig in use can cut a side at its mark."""
    shop = job.shop
    end, tail, faces = side
    mark = mark_from_jig_mm(shop.jig, pattern.ends[end], pattern.part.width_mm, tail, faces)
    fence_mm = fence_for_mark_mm(shop.jig, shop.saw.kerf_mm, mark)
    nearest, furthest = fence_range_mm(shop)
    if not nearest - NEAR <= fence_mm <= furthest + NEAR or too_far_forward_mm(job, pattern, side) > 0:
        return False
    if shop.fence.side is shop.saw.column_side:
        return True
    return past_blade_mm(job, pattern, side) <= shop.saw.throat_mm + NEAR


def past_blade_mm(job: Job, pattern: Pattern, side: PatternSide) -> float:
    """How far the board reaches past the blade, away from the fence, while a side is cut; on the widest board."""
    end, tail, faces = side
    part, jig = pattern.part, job.shop.jig
    mark = mark_from_jig_mm(jig, pattern.ends[end], part.width_mm, tail, faces)
    over = (part.widest_mm - mark) * math.cos(jig.slope) + job.shop.saw.kerf_mm
    return over if jig.wide_leads else over + part.length_mm * math.sin(jig.slope)


def too_far_forward_mm(job: Job, pattern: Pattern, side: PatternSide) -> float:
    """How much further towards the person the fence reaches than the board's trailing corner lets it; 0 if none.

    At the end of a cut the board's edge meets the fence's face W/tan θ - m sin θ - L/cos θ in front of the blade (m the
    mark, L the tail length): a fence that reaches further forward is fouled if the board is long enough to get there.
    """
    end, tail, faces = side
    jig, joint = job.shop.jig, pattern.ends[end]
    if not jig.wide_leads or pattern.part.length_mm * math.sin(jig.slope) <= jig.leading_width_mm:
        return 0.0
    deep = joint.mark_mm(tail, faces) * math.sin(jig.slope) + joint.tail_length_mm / math.cos(jig.slope)
    meets = jig.leading_width_mm / math.tan(jig.slope) - deep
    return max(0.0, job.shop.fence.front_mm - meets)
