"""What a family's ranges leave to choose from, in whole graduations of the fence's scale."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from coach.ground.errors import CoachError
from coach.ground.lengths import show_slope
from coach.joint.layout import MOST_TAILS
from coach.joint.limits import NEAR_SLOPES, Show
from coach.plan.geometry import fence_for_mark_mm, fence_range_mm
from coach.propose.family_file import Drawer, Family, Range
from coach.propose.graduations import Graduations
from coach.shop.tools import Shop

NEAR = 1e-6  # of a graduation: what rounding of floats may add up to
NARROWEST_MM = 0.001  # over a third at the baseline, so that writing the marks down can't take it away

Whole = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Limits:
    """A family's ranges, narrowed to what the blade and the slope allow; mm, at the end."""

    half_pin: Range
    tail: Range
    pin: Range


@dataclass(frozen=True, slots=True)
class Bounds:
    """A symmetrical drawer side in whole numbers; each pair is (from, to).

    A mark is the number g of its graduation, m = offset + g · spacing. Counted from either edge, mark i and mark
    n + 1 - i stand about tail i, mark i + 1 and mark n + 1 - i about the socket after it, so a tail's width is
    w - m - m', a socket's m + m' - w, and their ranges are ranges of the sums g + g'. (With a jig whose narrow end
    leads, marks fall as the fence moves out: then g is the graduation's number with its sign turned.)

    Attributes:
        counts: which numbers of tails may be possible.
        ratio: (a, b, c): a · (largest sum about a tail) - b · (smallest) ≤ c; None without one.
        reach: where the fence can stand.
    """

    half_pin: Whole
    tail: Whole
    pin: Whole
    counts: tuple[int, ...]
    ratio: tuple[int, int, int] | None
    reach: Whole


def limits_of(family: Family, graduations: Graduations) -> Limits:
    """The ranges less what can't be sawn: sockets narrower than the kerf, tails under a third at the baseline."""
    slope = graduations.jig.slope
    kerf = graduations.kerf_mm / math.cos(slope)
    half_low, half_high = family.half_pin_mm
    if half_low == half_high:  # one width stands for the graduation nearest to it
        half_low, half_high = half_low - graduations.spacing_mm / 2, half_high + graduations.spacing_mm / 2
    narrowest = 3 * family.tail_length_mm * math.tan(slope) + NARROWEST_MM
    return Limits(
        (max(half_low, kerf), half_high),
        (max(family.tail_mm[0], narrowest), family.tail_mm[1]),
        (max(family.pin_mm[0], kerf), family.pin_mm[1]),
    )


def bounds_of(family: Family, graduations: Graduations, shop: Shop, show: Show) -> list[Bounds]:
    """What each drawer of the family has to choose from.

    Raises:
        CoachError: with every drawer that can't be laid out, and why.
    """
    if family.slope is not None and abs(family.slope - graduations.jig.slope) > NEAR_SLOPES:
        raise CoachError(
            f"{family.root.where('slope')}: the family is drawn for {show_slope(family.slope)}, the jig has "
            f"{show_slope(graduations.jig.slope)}; expected them within 0.1°"
        )
    limits = limits_of(family, graduations)
    problems = list(_too_narrow(family, limits, show))
    if problems:
        raise CoachError(*problems)
    reach = _reach(shop, graduations)
    found = []
    for drawer in family.drawers:
        counts = _counts(drawer.width_mm, limits)
        least = _least_half_pin(drawer, shop)
        bounds = _bounds(drawer.width_mm, limits, least, family, graduations, counts, reach)
        found.append(bounds)
        if not counts:
            problems.append(f"{family.where(drawer)}: {_unfilled(drawer, limits, show)}")
        elif least > limits.half_pin[1]:
            problems.append(
                f"{family.where(drawer)}: a board {drawer.width_text} wide passes the saw's column only with half-pin "
                f"sockets of {show(least)} or more, since the throat is {show(shop.saw.throat_mm)}; expected narrower "
                f"boards{_first_rig(shop)}"
            )
        elif (short := _fence_short_mm(drawer, limits, graduations, shop)) > 0:
            problems.append(
                f"{family.where(drawer)}: the fence is {show(short)} short of the furthest mark that a board "
                f"{drawer.width_text} wide must have, even with the widest tail and half-pin socket of these ranges; "
                f"expected wider ranges, narrower boards or a fence that goes further{_first_rig(shop)}"
            )
        elif bounds.half_pin[0] > bounds.half_pin[1]:
            problems.append(
                f"{family.where(drawer)}: no graduation where the fence can stand makes a half-pin socket from "
                f"{show(limits.half_pin[0])} to {show(limits.half_pin[1])} on a board {drawer.width_text} wide; marks "
                f"on graduations lie {show(graduations.spacing_mm)} apart: expected a wider range or another jig"
            )
        elif not bounds.counts:
            problems.append(f"{family.where(drawer)}: {off_the_scale(drawer, graduations, show)}")
    if problems:
        raise CoachError(*problems)
    return found


def _first_rig(shop: Shop) -> str:
    """Says with what families are laid out, where there is a choice."""
    return "" if shop.rigs == 1 else " (families are laid out for the shop's first fence and first jig)"


def _fence_short_mm(drawer: Drawer, limits: Limits, graduations: Graduations, shop: Shop) -> float:
    """By how much the fence can't go far enough for a board, whatever its layout; 0 or less if it can.

    Of a wide-leading jig the furthest mark is that of the last tail's side that faces the first edge, as far from it as
    the width less that tail and its half-pin socket. Of a narrow-leading one it is the half-pin socket's mark, as far
    from the edge at the jig as the width less that socket.
    """
    jig = graduations.jig
    taken = limits.half_pin[1] + (limits.tail[1] if jig.wide_leads else 0.0)
    needed = fence_for_mark_mm(jig, graduations.kerf_mm, drawer.width_mm - taken)
    return needed - fence_range_mm(shop)[1]


def off_the_scale(drawer: Drawer, graduations: Graduations, show: Show) -> str:
    """Says that a drawer could be laid out, but not with its marks on graduations."""
    return (
        f"no marks on graduations keep a board {drawer.width_text} wide within the ranges, though others would: marks "
        f"on graduations lie {show(graduations.spacing_mm)} apart; expected wider ranges or a larger ratio"
    )


def _too_narrow(family: Family, limits: Limits, show: Show) -> Iterator[str]:
    for key, (low, high), why in (
        ("half_pin", limits.half_pin, "the blade doesn't fit into a socket under"),
        ("pin", limits.pin, "the blade doesn't fit into a socket under"),
        ("tail", limits.tail, "at the baseline a tail would be less than a third of its width if it were under"),
    ):
        if low > high:
            yield f"{family.root.where(key)}: goes up to {show(high)}, but {why} {show(low)}; expected more"


def _counts(width_mm: float, limits: Limits) -> tuple[int, ...]:
    return tuple(
        count
        for count in range(1, MOST_TAILS + 1)
        if _taken(count, limits, 0) <= width_mm + 1e-9 and width_mm - 1e-9 <= _taken(count, limits, 1)
    )


def _taken(tails: int, limits: Limits, most: int) -> float:
    """What so many tails take of a board's width at least (0) or at most (1)."""
    return tails * limits.tail[most] + (tails - 1) * limits.pin[most] + 2 * limits.half_pin[most]


def _unfilled(drawer: Drawer, limits: Limits, show: Show) -> str:
    """Which number of tails is too small for a board's width, and which is too large."""
    more = next(count for count in range(1, MOST_TAILS + 2) if _taken(count, limits, 0) > drawer.width_mm)
    said = []
    if more > 1:
        said.append(f"{_counted(more - 1, limits, 1, show)} take at most {show(_taken(more - 1, limits, 1))}")
    said.append(f"{_counted(more, limits, 0, show)} need {show(_taken(more, limits, 0))}")
    return f"no number of tails fills a board {drawer.width_text} wide: {', and '.join(said)}"


def _counted(tails: int, limits: Limits, most: int, show: Show) -> str:
    which = "at most" if most else "at least"
    tail = f"{tails} tail{'s' if tails > 1 else ''} of {which} {show(limits.tail[most])}"
    pin = f"{tails - 1} pin{'s' if tails > 2 else ''} of {which} {show(limits.pin[most])}"
    half = f"two half-pin sockets of {which} {show(limits.half_pin[most])}"
    return f"{tail}{f', {pin}' if tails > 1 else ''} and {half}"


def _least_half_pin(drawer: Drawer, shop: Shop) -> float:
    """The half-pin socket from which on a board passes the column, where that stands across the blade; else 0.

    Beyond the blade a board takes (w - m) cos θ + k, the most at the smallest mark.
    """
    if shop.fence.side is shop.saw.column_side or not shop.jig.wide_leads:
        return 0.0
    return max(0.0, drawer.width_mm - (shop.saw.throat_mm - shop.saw.kerf_mm) / math.cos(shop.jig.slope))


def _reach(shop: Shop, graduations: Graduations) -> Whole:
    """The first and the last graduation at which the fence can stand."""
    nearest, furthest = fence_range_mm(shop)
    step, zero = graduations.step_mm, graduations.zero_mm
    return math.ceil((nearest + zero) / step - NEAR), math.floor((furthest + zero) / step + NEAR)


def _bounds(
    width_mm: float,
    limits: Limits,
    least_half_pin_mm: float,
    family: Family,
    graduations: Graduations,
    counts: Sequence[int],
    reach: Whole,
) -> Bounds:
    spacing, offset = graduations.spacing_mm, graduations.mark_mm(0, width_mm)

    def whole(low_mm: float, high_mm: float, marks: int) -> Whole:
        low, high = ((mm - marks * offset) / spacing for mm in (low_mm, high_mm))
        return math.ceil(low - NEAR), math.floor(high + NEAR)

    if not graduations.jig.wide_leads:
        reach = -reach[1], -reach[0]
    half = whole(max(limits.half_pin[0], least_half_pin_mm), limits.half_pin[1], 1)
    ratio = None
    if family.ratio is not None:
        above, below = family.ratio.as_integer_ratio()
        room = (above - below) * (width_mm - 2 * offset) / spacing
        ratio = (above, below, math.floor(room + NEAR))
    tail = whole(width_mm - limits.tail[1], width_mm - limits.tail[0], 2)
    pin = whole(width_mm + limits.pin[0], width_mm + limits.pin[1], 2)
    return Bounds(
        (max(half[0], reach[0]), min(half[1], reach[1])),
        tail,
        pin,
        tuple(count for count in counts if tail[0] <= tail[1] and (count == 1 or pin[0] <= pin[1])),
        ratio,
        reach,
    )
