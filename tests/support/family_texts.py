"""A plain family of drawers as text, and every layout that it could have, tried one after the other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from support.plain_files import Keys, keys
from support.plain_layout import PlainShop
from support.proposals import graduation_of, mark_of

FAMILY: Keys = {
    "format": "1",
    "name": '"Chest"',
    "widths": '["57 mm", "76 mm"]',
    "thickness": '"12 mm"',
    "length": '"380 mm"',
    "joint": '"through"',
    "mates_with": '"12 mm"',
    "half_pin": '["4 mm", "7 mm"]',
    "tail": '["18 mm", "32 mm"]',
    "pin": '["3 mm", "6 mm"]',
}
NOISE_MM = 1e-9
SIX_WIDTHS = '["57 mm", "76 mm", "95 mm", "114 mm", "133 mm", "152 mm"]'


def family_text(changed: Keys | None = None, more: str = "") -> str:
    """A family of two drawers with a ratio of any size; `more` stands below it."""
    return keys(FAMILY, changed) + more


@dataclass(frozen=True)
class Ranges:
    """What a family allows, in mm at the end, and the longest of its tails against the narrowest on one board."""

    widths: Sequence[float]
    half_pin: tuple[float, float]
    tail: tuple[float, float]
    pin: tuple[float, float]
    ratio: float
    tail_length: float


def fewest_and_evenest(ranges: Ranges, shop: PlainShop, step_mm: float, zero_mm: float = 0.0) -> tuple[int, float]:
    """The fewest settings of all symmetrical layouts on graduations, and the least unevenness of those, in mm.

    Goes through every combination of all layouts of each drawer, so it is for small families.
    """
    choices = [list(_layouts(width, ranges, shop, step_mm, zero_mm)) for width in ranges.widths]
    best = (10**9, math.inf)
    for chosen in product(*choices):
        settings = len({setting for settings, _ in chosen for setting in settings})
        best = min(best, (settings, sum(uneven for _, uneven in chosen)))
    return best


def _layouts(
    width: float, ranges: Ranges, shop: PlainShop, step_mm: float, zero_mm: float
) -> Iterator[tuple[frozenset[int], float]]:
    """All symmetrical layouts of one board: its settings, and its widest less its narrowest tail."""
    ends = sorted(graduation_of(shop, zero_mm, step_mm, width, mark) for mark in (0.0, width))
    numbers = range(math.ceil(ends[0]), math.floor(ends[1]) + 1)
    marks = sorted((mark_of(shop, zero_mm, step_mm, width, number), number) for number in numbers)
    seen = {}
    for tails in range(1, 5):
        for chosen in combinations(marks, tails):
            top = [mark for mark, _ in chosen]
            widths = [width - mark - other for mark, other in zip(top, reversed(top), strict=True)]
            pins = [mark + other - width for mark, other in zip(top[1:], reversed(top[1:]), strict=True)]
            if _allowed(top[0], widths, pins, ranges, shop):
                settings = frozenset(number for _, number in chosen)
                seen[settings] = max(widths) - min(widths)
    yield from seen.items()


def _allowed(half_pin: float, tails: list[float], pins: list[float], ranges: Ranges, shop: PlainShop) -> bool:
    kerf = shop.kerf_mm / math.cos(shop.jig.slope)
    inset = 2 * ranges.tail_length * math.tan(shop.jig.slope)
    return (
        max(ranges.half_pin[0], kerf) - NOISE_MM <= half_pin <= ranges.half_pin[1] + NOISE_MM
        and all(ranges.tail[0] - NOISE_MM <= tail <= ranges.tail[1] + NOISE_MM for tail in tails)
        and all(tail - inset > tail / 3 for tail in tails)
        and all(max(ranges.pin[0], kerf) - NOISE_MM <= pin <= ranges.pin[1] + NOISE_MM for pin in pins)
        and max(tails) <= ranges.ratio * min(tails) + NOISE_MM
    )
