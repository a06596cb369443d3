"""Whether the saw, the fence and the jig can do what a plan asks."""

from __future__ import annotations

import math

from coach.joint.limits import Show
from coach.plan.geometry import lie_for, mark_from_jig_mm
from coach.plan.job import Job, Pattern
from coach.plan.settings import Settings
from coach.words import Edge


def reach_problems(job: Job, settings: Settings, show: Show) -> list[str]:
    """What is out of reach, each with by how much it fails; empty if nothing is.

    The fence must be able to stand at F. Beyond the blade the board takes (w - m) cos θ + k, with a narrow-leading jig
    its length times sin θ more, since its far edge then slants towards the column. Where the column is on that side
    the throat bounds it, and the smallest mark is the worst. Where the fence stands on the column's side, F and the
    fence's own body are bounded instead.
    """
    found = []
    fence, saw = job.shop.fence, job.shop.saw
    for number, at in enumerate(settings.fence_mm, 1):
        if at > fence.max_mm + 1e-9:
            found.append(
                f"setting {number}: the fence would stand {show(at)} from the kerf; it goes to {show(fence.max_mm)}: "
                f"{show(at - fence.max_mm)} short"
            )
        if at < fence.min_mm - 1e-9:
            found.append(
                f"setting {number}: the fence would stand {show(at)} from the kerf; it comes no nearer than "
                f"{show(fence.min_mm)}: {show(fence.min_mm - at)} too near"
            )
        if fence.side is saw.column_side and at + fence.body_mm > saw.throat_mm + 1e-9:
            found.append(
                f"setting {number}: fence and column are on one side and the fence needs {show(at + fence.body_mm)}; "
                f"the throat is {show(saw.throat_mm)}: {show(at + fence.body_mm - saw.throat_mm)} short"
            )
    for pattern in job.patterns:
        found += [problem for problem in _board_problems(job, pattern, show) if problem not in found]
    return found


def _board_problems(job: Job, pattern: Pattern, show: Show) -> list[str]:
    """The throat, and the corner that trails on the jig's side.

    At the end of a cut the board's edge meets the fence's face W/tan θ - m sin θ - L/cos θ in front of the blade (m the
    mark, L the tail length): a fence that reaches further forward is fouled if the board is long enough to get there.
    """
    found = []
    part, jig, fence, saw = pattern.part, job.shop.jig, job.shop.fence, job.shop.saw
    if fence.side is not saw.column_side:
        beyond = []
        for end, tail, faces in pattern.sides():
            joint = pattern.ends[end]
            mark = mark_from_jig_mm(jig, joint, part.width_mm, tail, faces)
            over = (part.widest_mm - mark) * math.cos(jig.slope) + saw.kerf_mm
            if not jig.wide_leads:
                over += part.length_mm * math.sin(jig.slope)
            lie = lie_for(jig, end, faces)
            beyond.append((over, f"end {end}, {lie.edge} edge at the jig, mark {show(mark)}"))
        most, which = max(beyond)
        if most > saw.throat_mm + 1e-9:
            found.append(
                f'part "{part.label}" ({which}): the board reaches {show(most)} past the blade on the column\'s side; '
                f"the throat is {show(saw.throat_mm)}: {show(most - saw.throat_mm)} short. "
                "A fence on the column's side, or fewer or other tails, may be a way out"
            )
    swing = part.length_mm * math.sin(jig.slope) - jig.leading_width_mm
    if jig.wide_leads and swing > 0:
        deepest = max(
            joint.mark_mm(tail, faces) * math.sin(jig.slope) + joint.tail_length_mm / math.cos(jig.slope)
            for joint in pattern.ends.values()
            for tail in range(1, joint.tails + 1)
            for faces in Edge
        )
        meets = jig.leading_width_mm / math.tan(jig.slope) - deepest
        if meets < fence.front_mm:
            found.append(
                f"part \"{part.label}\": the board's trailing corner swings {show(swing)} past the fence's face, and "
                f"the fence reaches {show(fence.front_mm - meets)} further forward than it may (at most {show(meets)} "
                "in front of the blade): a wider jig or a shorter fence"
            )
    return found
