"""Ways out where a saw can't reach what a layout asks for: each worked out and tried on the virtual saw, and ranked."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from coach.ground.errors import CoachError
from coach.ground.lengths import Unit
from coach.ground.terms import Hand
from coach.joint.limits import Show
from coach.plan.deciding.rigs import usable_rigs
from coach.plan.job import Job, Pattern, make_job
from coach.plan.judging.proof import proven_settings
from coach.plan.reach import PatternSide, reaches
from coach.plan.settings import Settings
from coach.propose.graduations import few_boards
from coach.propose.jig_widths import Range, jig_like, widths_that_reach
from coach.propose.other_tails import other_tails
from coach.shop.tools import Fence, Shop

STEP_MM: dict[Unit, float] = {"mm": 1.0, "in": 25.4 / 16}
"""What is to be made or measured is rounded to this, away from what would no longer do."""
NEAR = 1e-6


@dataclass(frozen=True, slots=True)
class Way:
    """A way out that was tried and works.

    Attributes:
        text: what to do.
        settings: what is then cut with what.
        narrow: whether a jig takes part whose narrow end leads.
        redrawn: whether the layout becomes another.
    """

    text: str
    settings: Settings
    narrow: bool
    redrawn: bool

    @property
    def rank(self) -> tuple[bool, int, bool, int]:
        """What the ways are ranked by: the layout kept, fewest changes of fence or jig, no narrow-leading jig, fewest
        settings."""
        return self.redrawn, self.settings.rig_changes, self.narrow, len(self.settings.fence_mm)


Tried = tuple[Shop, Settings]
"""A shop that was tried, and the settings that it has."""


def ways_out(job: Job, show: Show, unit: Unit = "mm") -> list[Way]:
    """The ways out for a job that isn't within the saw's reach, the best first; empty if none was found.

    Tried are, each with what the shop has already: the fence on the other side of the blade, with the jig turned over;
    a jig of another width, and one that leads with its narrow end, and if none of these does, those with the fence on
    the other side as well; fewer tails, or wider half-pin sockets.

    Args:
        unit: in which what is to be made is rounded.
    """
    small = make_job([few_boards(layout) for layout in job.layouts], job.shop)
    shop = small.shop
    found = [*_across(small, show, unit), *_jigs(small, None, show, unit)]
    across = _fence_across(shop)
    if not found and across is not None:
        both = with_shop(small, replace(shop, fences=(*shop.fences, across)))
        found += _jigs(both, across, show, unit)
    for layouts, text in other_tails(small, show):
        settings = _proven(make_job(layouts, shop), show)
        if settings is not None:
            found.append(_way(f"other tails: {text}", (shop, settings), redrawn=True))
            break
    return sorted(found, key=lambda way: way.rank)


def with_shop(job: Job, shop: Shop) -> Job:
    """The job with another shop; how far a mark may shift stays."""
    return Job(job.layouts, shop, job.patterns, job.boards)


def _proven(job: Job, show: Show) -> Settings | None:
    try:
        return proven_settings(job, show)
    except CoachError:
        return None


def _way(text: str, tried: Tried, *, redrawn: bool = False) -> Way:
    shop, settings = tried
    narrow = any(not shop.rigged(rig).jig.wide_leads for rig in settings.rigs or (0,))
    return Way(text, settings, narrow, redrawn)


def _fence_across(shop: Shop) -> Fence | None:
    """A fence like the one in use on the other side of the blade; None if the shop has one there."""
    other = Hand.LEFT if shop.fence.side is Hand.RIGHT else Hand.RIGHT
    return None if any(fence.side is other for fence in shop.fences) else replace(shop.fence, side=other)


def _across(job: Job, show: Show, unit: Unit) -> Iterator[Way]:
    """The fence on the other side of the blade as well."""
    shop, across = job.shop, _fence_across(job.shop)
    if across is None:
        return
    both = replace(shop, fences=(*shop.fences, across))
    settings = _proven(with_shop(job, both), show)
    if settings is not None:
        text = f"the fence at the {across.side} of the blade, with jig “{shop.jig.name}” turned over"
        yield _way(text + _body_words([(both, settings)], across, show, unit), (both, settings))


def _body_words(tried: Sequence[Tried], new: Fence, show: Show, unit: Unit) -> str:
    """How thick the body of a fence that is new on the column's side may be: nobody has measured it there."""
    if new.side is not tried[0][0].saw.column_side:
        return ""
    room = min(
        shop.saw.throat_mm - fence_mm
        for shop, settings in tried
        for setting, fence_mm in enumerate(settings.fence_mm)
        if shop.rigged(settings.rig(setting)).fence == new
    )
    step = STEP_MM[unit]
    most = math.floor(room / step + NEAR) * step
    return f", if its body takes up no more than {show(most)} between it and the column"


def _jigs(job: Job, new: Fence | None, show: Show, unit: Unit) -> Iterator[Way]:
    """A second jig of the same slope, of each kind: for all sides if it can do them all, else for those out of reach.

    Args:
        new: a fence that is thought of besides.
    """
    sides = [(pattern, side) for pattern in job.patterns for side in pattern.sides()]
    rigs = usable_rigs(job)
    missing = [
        (pattern, side) for pattern, side in sides if not any(reaches(job.rigged(rig), pattern, side) for rig in rigs)
    ]
    for wide_leads in (True, False):
        way = _jig(job, sides, new, show, unit, wide_leads=wide_leads)
        way = way or _jig(job, missing, new, show, unit, wide_leads=wide_leads)
        if way is not None:
            yield way


def _jig(
    job: Job,
    wanted: Sequence[tuple[Pattern, PatternSide]],
    new: Fence | None,
    show: Show,
    unit: Unit,
    *,
    wide_leads: bool,
) -> Way | None:
    """A jig for the sides that are wanted of it, as wide as it may be from least to most."""
    for bounds in widths_that_reach(job, wanted, wide_leads=wide_leads):
        widths = _widths_to_try(bounds, STEP_MM[unit])
        tried: dict[float, Tried] = {}
        for width in widths:
            shop = replace(job.shop, jigs=(*job.shop.jigs, jig_like(job.shop.jig, width, wide_leads=wide_leads)))
            settings = _proven(with_shop(job, shop), show)
            if settings is not None:
                tried[width] = shop, settings
        if not tried:
            continue
        least, most = min(widths), max(widths)
        wide = f"{show(least)} to {show(most)}" if len(tried) > 1 and len(tried) == len(widths) else show(min(tried))
        where = "" if new is None else f" and the fence at the {new.side} of the blade"
        where += "" if new is None else _body_words(list(tried.values()), new, show, unit)
        if wide_leads:
            text = f"a jig of the same slope, {wide} wide at its leading end{where}"
        else:
            text = (
                f"a jig of the same slope whose narrow end leads, {wide} wide there{where}; clamp the boards to it or "
                "give it a heel, since feeding draws them off, and make a scrap cut of its own (a stop on its travel "
                "moves the other way)"
            )
        return _way(text, tried[min(tried)])
    return None


def _widths_to_try(bounds: Range, step_mm: float) -> list[float]:
    """The least and the greatest width that can well be measured, and one between; none if there is no such width."""
    least, most = math.ceil(bounds[0] / step_mm - NEAR), math.floor(bounds[1] / step_mm + NEAR)
    return [number * step_mm for number in dict.fromkeys((least, (least + most) // 2, most)) if least <= most]
