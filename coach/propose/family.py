"""Layouts for a whole family of drawers, with the fewest fence settings that can be."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from coach.ground.errors import CoachError
from coach.joint.files import parse_layout
from coach.joint.layout import Layout, Part
from coach.joint.limits import Show
from coach.joint.spacing import proportioned
from coach.plan.deciding.decide import decide
from coach.plan.job import make_job
from coach.plan.judging.proof import proven_settings
from coach.plan.settings import Settings
from coach.propose.bounds import Limits, bounds_of, limits_of, off_the_scale
from coach.propose.family_file import Drawer, Family
from coach.propose.graduations import Graduations, apart_mm, cut_alone, few_boards
from coach.propose.layout_text import layout_text, length_text, name_with, tolerance_text
from coach.shop.tools import Shop

if TYPE_CHECKING:
    from coach.propose.family_search import Found

WITHOUT_A_SCALE_MM = 0.5
MISSING = (
    "coach family needs a constraint solver that isn't installed; install it from this project's folder:  "
    f"{shlex.quote(sys.executable)} -m pip install '.[family]'"
)


@dataclass(frozen=True, slots=True)
class Proposal:
    """A family's layouts.

    Attributes:
        layouts, texts: one for each drawer, with few boards, and the file that holds it with all.
        settings: what all of them together are cut with.
        even: how many settings evenly spaced tails, as many on each board, would need.
    """

    found: Found
    layouts: tuple[Layout, ...]
    texts: tuple[str, ...]
    settings: Settings
    even: int


def propose(
    family: Family,
    shop: Shop,
    show: Show,
    *,
    seconds: float | None = None,
    most_work: float | None = None,
    say: Callable[[str], None] = lambda _: None,
) -> Proposal:
    """The layouts of the family with the fewest fence settings, and of those the evenest.

    All are symmetrical: the marks from the bottom edge are those from the top edge, so that each setting makes up to
    four cuts on a board, and a drawer looks alike either way up. Their marks fall on graduations; without a scale on a
    grid of `WITHOUT_A_SCALE_MM` of fence travel. The evenest have the smallest sum, over the drawers, of the widest
    less the narrowest tail.

    Args:
        seconds, most_work: see `coach.propose.family_search.search`.
        say: told of the progress.

    Raises:
        CoachError: the solver isn't installed, no layouts are possible, or the saw can't reach.
    """
    try:
        from coach.propose.family_search import by_itself, search
    except ModuleNotFoundError as error:
        if error.name is None or error.name.split(".")[0] != "ortools":
            raise
        raise CoachError(MISSING) from None
    graduations = Graduations.of(shop, otherwise_mm=WITHOUT_A_SCALE_MM)
    assert graduations is not None
    possible, first, problems = [], [], []
    for drawer, bounds in zip(family.drawers, bounds_of(family, graduations, shop, show), strict=True):
        allowed, evenest = by_itself(bounds)
        if evenest is None:
            problems.append(f"{family.where(drawer)}: {off_the_scale(drawer, graduations, show)}")
            continue
        possible.append(allowed)
        first.append(evenest)
    if problems:
        raise CoachError(*problems)
    found = search(possible, tuple(first), seconds=seconds, most_work=most_work, say=say)
    texts, layouts, settings = _written(family, found, graduations, shop, show)
    even = [_evenly_spaced(layout, limits_of(family, graduations)) for layout in layouts]
    return Proposal(found, layouts, texts, settings, len(decide(make_job(even, shop)).fence_mm))


def _written(
    family: Family, found: Found, graduations: Graduations, shop: Shop, show: Show
) -> tuple[tuple[str, ...], tuple[Layout, ...], Settings]:
    """The layouts' files, read back and proven.

    Where the usual tolerance lets a setting between two graduations serve marks on both, they say a narrower one.
    """
    sign = 1 if graduations.jig.wide_leads else -1
    marks = [
        [graduations.mark_mm(sign * number, drawer.width_mm) for number in numbers]
        for drawer, numbers in zip(family.drawers, found.marks, strict=True)
    ]
    texts = [_text(family, drawer, own, None) for drawer, own in zip(family.drawers, marks, strict=True)]
    job = make_job([few_boards(parse_layout(family.name, text)) for text in texts], shop)
    if not cut_alone(job, {graduations.fence_mm(sign * number) for numbers in found.marks for number in numbers}):
        tolerance = apart_mm(job.layouts, graduations)
        texts = [_text(family, drawer, own, tolerance) for drawer, own in zip(family.drawers, marks, strict=True)]
        job = make_job([few_boards(parse_layout(family.name, text)) for text in texts], shop)
    return tuple(texts), job.layouts, proven_settings(job, show)


def _text(family: Family, drawer: Drawer, marks_mm: Sequence[float], tolerance_mm: float | None) -> str:
    root: dict[str, Any] = {"format": 1, "name": name_with(family.name, drawer.label)}
    if family.root.has("slope"):
        root["slope"] = family.root.data["slope"]
    if tolerance_mm is not None:
        root["tolerance"] = tolerance_text(tolerance_mm, family.unit)
    marks = [length_text(mark, family.unit) for mark in marks_mm]
    part = {
        "label": drawer.label,
        "boards": drawer.boards,
        "spares": family.spares,
        "width": drawer.width_text,
        "ends": "both",
        **family.copied,
        "top_marks": marks,
        "bottom_marks": marks,
    }
    return layout_text(root, [part])


def _evenly_spaced(layout: Layout, limits: Limits) -> Layout:
    """The layout with as many tails of one width, with pins and half-pin sockets from the middle of their ranges.

    Where tails of one width would then be beyond their range, pins and next half-pin sockets are as near the middle as
    they can be.
    """
    part = layout.parts[0]
    tails = next(iter(part.ends.values())).tails
    half, pin = sum(limits.half_pin) / 2, sum(limits.pin) / 2
    least, most = (part.width_mm - tails * width for width in reversed(limits.tail))  # what the sockets may take
    if tails > 1:
        pin = _within(pin, (least - 2 * half) / (tails - 1), (most - 2 * half) / (tails - 1))
        pin = _within(pin, *limits.pin)
    half = _within(half, (least - (tails - 1) * pin) / 2, (most - (tails - 1) * pin) / 2)
    marks = proportioned(Fraction(part.width_mm), Fraction(half), Fraction(pin), [Fraction(1)] * tails)
    return replace(layout, parts=(_with_marks(part, marks),))


def _within(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _with_marks(part: Part, marks: tuple[tuple[float, ...], tuple[float, ...]]) -> Part:
    top, bottom = marks
    ends = {end: replace(joint, top_marks_mm=top, bottom_marks_mm=bottom) for end, joint in part.ends.items()}
    return replace(part, ends=ends)
