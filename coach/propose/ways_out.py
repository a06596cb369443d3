"""Ways out where a saw can't reach what a layout asks for: each worked out and tried on the virtual saw, and ranked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.errors import CoachError
from coach.joint.layout import EndLayout, Layout, Part
from coach.joint.limits import Show, problems
from coach.joint.spacing import proportioned
from coach.plan.geometry import fence_range_mm, mark_from_jig_mm
from coach.plan.job import Job, Pattern, make_job
from coach.plan.proof import proven_settings
from coach.plan.reach import reaches, too_far_forward_mm
from coach.plan.settings import PatternSide, Settings
from coach.shop.tools import Jig, Shop
from coach.words import Hand

NARROWEST_JIG_MM = 20.0
"""A leading end narrower than this leaves nothing to put a stop on (common practice, no source)."""

ALIKE_MM = 0.01  # sockets and half-pin sockets that differ by less were laid out alike


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


def ways_out(job: Job, show: Show) -> list[Way]:
    """The ways out for a job that isn't within the saw's reach, the best first; empty if none was found.

    Tried are, each with what the shop has already: the fence on the other side of the blade, with the jig turned over;
    a jig of another width; a jig whose narrow end leads, and if none of these does, that with the fence on the other
    side; fewer tails, or wider half-pin sockets.
    """
    small = _one_of_each(job)
    shop, other = small.shop, _other_side(small.shop)
    found = [*_across(small, other, show), *_other_widths(small, show), *_narrow_leading(small, "", show)]
    if not found and all(fence.side is not other for fence in shop.fences):
        with_across = replace(shop, fences=(*shop.fences, replace(shop.fence, side=other)))
        found += _narrow_leading(with_shop(small, with_across), f" and the fence at the {other} of the blade", show)
    return sorted([*found, *_other_tails(small, show)], key=lambda way: way.rank)


def with_shop(job: Job, shop: Shop) -> Job:
    """The job with another shop; how far a mark may shift stays."""
    return Job(job.layouts, shop, job.patterns, job.boards)


def _one_of_each(job: Job) -> Job:
    """The job with one board of each pattern: what can be cut doesn't depend on how many there are."""
    layouts = [
        replace(
            layout,
            parts=tuple(replace(part, boards=2 if part.handed else 1, spares=0) for part in layout.parts),
        )
        for layout in job.layouts
    ]
    return make_job(layouts, job.shop)


def _proven(job: Job, show: Show) -> Settings | None:
    try:
        return proven_settings(job, show)
    except CoachError:
        return None


def _other_side(shop: Shop) -> Hand:
    return Hand.LEFT if shop.fence.side is Hand.RIGHT else Hand.RIGHT


def _across(job: Job, other: Hand, show: Show) -> Iterator[Way]:
    """The fence on the other side of the blade as well, unless the shop has one there."""
    shop = job.shop
    if any(fence.side is other for fence in shop.fences):
        return
    across = replace(shop, fences=(*shop.fences, replace(shop.fence, side=other)))
    settings = _proven(with_shop(job, across), show)
    if settings is None:
        return
    text = f"the fence at the {other} of the blade, with jig “{shop.jig.name}” turned over"
    if other is shop.saw.column_side:
        there = [
            fence
            for setting, fence in enumerate(settings.fence_mm)
            if across.rigged(settings.rig(setting)).fence.side is other
        ]
        text += f", if its body takes up no more than {show(shop.saw.throat_mm - max(there))} between it and the column"
    yield _way(text, across, settings)


def _other_widths(job: Job, show: Show) -> Iterator[Way]:
    """A jig like the one in use of another width."""
    for wide in _wide_jigs(job):
        shop = replace(job.shop, jigs=(*job.shop.jigs, wide))
        settings = _proven(with_shop(job, shop), show)
        if settings is not None:
            yield _way(
                f"a jig of the same slope, {show(wide.leading_width_mm)} wide at its leading end", shop, settings
            )


def _narrow_leading(job: Job, where: str, show: Show) -> Iterator[Way]:
    """A second jig, whose narrow end leads, as wide as it may be from least to most."""
    bounds = _narrow_jig(job)
    if bounds is None:
        return
    least, most = bounds
    tried = []
    for width in dict.fromkeys(((least + most) / 2, least, most)):
        jig = replace(job.shop.jig, name="narrow end first", leading_width_mm=width, wide_leads=False)
        shop = replace(job.shop, jigs=(*job.shop.jigs, jig))
        settings = _proven(with_shop(job, shop), show)
        if settings is not None:
            tried.append((width, shop, settings))
    if not tried:
        return
    width, shop, settings = tried[0]
    wide = f"{show(least)} to {show(most)}" if len(tried) == 3 else show(width)
    yield _way(
        f"a jig of the same slope whose narrow end leads, {wide} wide there{where}; clamp the boards to it or give it "
        "a heel, since feeding draws them off, and make a scrap cut of its own (a stop on its travel moves the other "
        "way)",
        shop,
        settings,
    )


def _way(text: str, shop: Shop, settings: Settings) -> Way:
    narrow = any(not shop.rigged(rig).jig.wide_leads for rig in settings.rigs or (0,))
    return Way(text, settings, narrow, redrawn=False)


def _sides(job: Job) -> list[tuple[Pattern, PatternSide]]:
    return [(pattern, side) for pattern in job.patterns for side in pattern.sides()]


def _wide_jigs(job: Job) -> Iterator[Jig]:
    """Jigs like the one in use of other widths: narrower for a fence that doesn't go far enough, wider for one that
    doesn't come near enough, or for a trailing corner that fouls it."""
    jig, kerf = job.shop.jig, job.shop.saw.kerf_mm
    if not jig.wide_leads:
        return
    cosine = math.cos(jig.slope)
    marks = [pattern.ends[end].mark_mm(tail, faces) for pattern, (end, tail, faces) in _sides(job)]
    nearest, furthest = fence_range_mm(job.shop)
    least = max(nearest - min(marks) * cosine + kerf, jig.length_mm * math.tan(jig.slope) + 1)
    most = furthest - max(marks) * cosine + kerf
    swung = max((too_far_forward_mm(job, pattern, side) for pattern, side in _sides(job)), default=0.0)
    if swung > 0:
        least = max(least, jig.leading_width_mm + swung * math.tan(jig.slope))
    least, most = math.ceil(least), math.floor(most)
    if NARROWEST_JIG_MM <= least <= most:
        wanted = least if jig.leading_width_mm < least else most
        if wanted != jig.leading_width_mm:
            yield replace(jig, name="another width", leading_width_mm=float(wanted))


def _narrow_jig(job: Job) -> tuple[float, float] | None:
    """From how wide to how wide a narrow-leading jig may be there to reach what the shop's rigs don't, in whole mm."""
    jig = job.shop.jig
    narrow = replace(jig, wide_leads=False)
    cosine = math.cos(jig.slope)
    left = [
        (pattern, side)
        for pattern, side in _sides(job)
        if not any(reaches(job.rigged(rig), pattern, side) for rig in range(job.shop.rigs))
    ]
    runs = [
        mark_from_jig_mm(narrow, pattern.ends[end], pattern.part.width_mm, tail, faces) * cosine
        for pattern, (end, tail, faces) in left
    ]
    if not runs:
        return None
    ranges = [fence_range_mm(job.rigged(rig).shop) for rig in range(len(job.shop.fences))]
    nearest, furthest = max(ranges, key=lambda found: found[1])
    least, most = math.ceil(max(NARROWEST_JIG_MM, nearest - min(runs))), math.floor(furthest - max(runs))
    return (float(least), float(most)) if least <= most else None


def _other_tails(job: Job, show: Show) -> Iterator[Way]:
    """The layout with as few tails less as will do, or else with wider half-pin sockets too."""
    jig, saw = job.shop.jig, job.shop.saw
    least = max(
        (
            part.widest_mm - (saw.throat_mm - saw.kerf_mm) / math.cos(jig.slope)
            for layout in job.layouts
            for part in layout.parts
        ),
        default=0.0,
    )
    for wider in dict.fromkeys((0.0, float(math.ceil(max(least, 0.0))))):
        for fewer in range(
            max((joint.tails for pattern in job.patterns for joint in pattern.ends.values()), default=1)
        ):
            if not fewer and not wider:
                continue
            found = _redrawn(job, fewer, wider)
            if found is None:
                continue
            layouts, changes = found
            against = [
                problem
                for layout in layouts
                for problem in problems(layout, jig.slope, saw.kerf_mm, show, wide_leads=jig.wide_leads)
            ]
            settings = None if against else _proven(make_job(layouts, job.shop), show)
            if settings is not None:
                narrow = any(not job.shop.rigged(rig).jig.wide_leads for rig in settings.rigs or (0,))
                yield Way("other tails: " + "; ".join(_said(changes, show)), settings, narrow, redrawn=True)
                return


Change = tuple[Part, EndLayout, EndLayout]


def _redrawn(job: Job, fewer: int, half_pin_mm: float) -> tuple[list[Layout], list[Change]] | None:
    """The layouts with evenly spaced ends that are out of reach drawn anew, so many tails fewer and with half-pin
    sockets of at least so much; None if one of them wasn't evenly spaced or has no tails to spare."""
    changes: list[Change] = []
    layouts = []
    for layout in job.layouts:
        parts = []
        for part in layout.parts:
            ends = dict(part.ends)
            for end, joint in part.ends.items():
                if all(_reached(job, part, joint)):
                    continue
                drawn = _evenly(part, joint, joint.tails - fewer, half_pin_mm)
                if drawn is None:
                    return None
                ends[end] = drawn
                changes.append((part, joint, drawn))
            parts.append(replace(part, ends=ends))
        layouts.append(replace(layout, parts=tuple(parts)))
    return layouts, changes


def _reached(job: Job, part: Part, joint: EndLayout) -> Iterator[bool]:
    """Whether each side of an end is within reach of some rig."""
    for pattern in job.patterns:
        if pattern.part.label != part.label or joint not in pattern.ends.values():
            continue
        for side in pattern.sides():
            if pattern.ends[side[0]] == joint:
                yield any(reaches(job.rigged(rig), pattern, side) for rig in range(job.shop.rigs))


def _evenly(part: Part, joint: EndLayout, tails: int, half_pin_mm: float) -> EndLayout | None:
    """An evenly spaced end with another number of tails; None if it wasn't evenly spaced, or if it would look odd: less
    than half as many tails, or half-pin sockets made wider than a tail."""
    widths = joint.socket_widths_mm(part.width_mm)
    spaced = joint.tail_widths_mm(part.width_mm)
    even = max(spaced) - min(spaced) < ALIKE_MM and abs(widths[0] - widths[-1]) < ALIKE_MM
    even = even and (joint.tails == 1 or max(widths[1:-1]) - min(widths[1:-1]) < ALIKE_MM)
    if not even or tails < 1 or 2 * tails < joint.tails:
        return None
    half = Fraction(max(widths[0], half_pin_mm)).limit_denominator(1_000_000)
    pin = Fraction(widths[1] if joint.tails > 1 else 0.0).limit_denominator(1_000_000)
    width = Fraction(part.width_mm).limit_denominator(1_000_000)
    if width <= 2 * half + (tails - 1) * pin:
        return None
    if half_pin_mm and half > (width - 2 * half - (tails - 1) * pin) / tails:
        return None
    marks = proportioned(width, half, pin, [Fraction(1)] * tails)
    top, bottom = (tuple(float(mark) for mark in edge) for edge in marks)
    return replace(joint, top_marks_mm=top, bottom_marks_mm=bottom)


def _said(changes: Iterable[Change], show: Show) -> Iterator[str]:
    said: dict[str, None] = {}
    for part, was, now in changes:
        half = now.top_marks_mm[0]
        wide = now.tail_widths_mm(part.width_mm)[0]
        many = f"{now.tails} tails of {show(wide)}" if now.tails > 1 else f"one tail of {show(wide)}"
        text = f'part "{part.label}": {many} instead of {was.tails} of {show(was.tail_widths_mm(part.width_mm)[0])}'
        if half - was.top_marks_mm[0] > ALIKE_MM:
            text += f", half-pin sockets {show(half)} instead of {show(was.top_marks_mm[0])}"
        said[text] = None
    yield from said
