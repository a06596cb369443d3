"""Spacers instead of the scale, as a person reads them and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from coach.plan.job import EQUAL_MM, Job
from coach.plan.settings import Settings
from coach.plan.spacers import Spacers, Stack, allowed_fences, spacers, stacks
from coach.sheets.columns import columns
from coach.sheets.plan_totals import PAGE, wrapped
from coach.sheets.saying import Saying, counted

NOTHING = "next to nothing"  # less than is shown


def spacers_lines(job: Job, settings: Settings, saying: Saying) -> list[str]:
    """The spacers to make for a plan, and what stacks of one's own blocks do; in lines of a page."""
    allowed = allowed_fences(job, settings)
    found = spacers(allowed)
    title = "Spacers instead of the scale"
    if found is None:
        return [title, *wrapped("There is one setting only: the fence never moves, and no spacer is needed.")]
    lines = [title, *_to_make(job, found, saying)]
    if job.shop.blocks:
        lines += ["", "Stacks of your own blocks", *_stacked(job, stacks(job.shop.blocks, allowed), settings, saying)]
    return lines


def spacers_as_json(job: Job, settings: Settings) -> dict[str, Any]:
    """The same as plain JSON values; lengths in mm, settings from 1."""
    allowed = allowed_fences(job, settings)
    found = spacers(allowed)
    piles = stacks(job.shop.blocks, allowed) if job.shop.blocks else []
    return {
        "make": [{"length_mm": length, "count": count} for length, count in (found.kinds if found else ())],
        "fence_mm": list(found.fence_mm) if found else [],
        "moves_mm": list(found.moves_mm) if found else [],
        "furthest_off_mm": found.furthest_mm if found else 0.0,
        "stacks": [
            {
                "setting": setting,
                "move_mm": pile.move_mm,
                "blocks_mm": list(pile.blocks_mm),
                "error_mm": pile.error_mm,
                "within": pile.within,
            }
            for setting, pile in enumerate(piles, 2)
        ],
    }


def _to_make(job: Job, found: Spacers, saying: Saying) -> Iterator[str]:
    made = [f"{counted(count, 'spacer')} of {saying.length(length)}" for length, count in found.kinds]
    yield from wrapped(f"Make {' and '.join([', '.join(made[:-1]), made[-1]] if made[1:] else made)}.")
    first = saying.reading(found.fence_mm[0] + job.shop.fence.zero_mm)
    towards = "towards" if found.fence_mm[-1] < found.fence_mm[0] else "away from"
    several = len(found.moves_mm) > 1
    if towards == "towards":
        between, take = ("all the spacers", "a spacer") if several else ("the spacer", "it")
        yield from wrapped(
            f"Set the fence for setting 1 ({first}) by a scrap cut and clamp a stop to its rail on the blade's side, "
            f"with {between} between. For {_each(several)} take {take} out and bring the fence up."
        )
    else:
        yield from wrapped(
            f"Set the fence for setting 1 ({first}) by a scrap cut and clamp a stop against it on the blade's side. "
            f"For {_each(several)} move the fence away and put {'one more' if several else 'the'} spacer between."
        )
    if len(found.kinds) > 1:
        moves = [
            f"from setting {number} to {number + 1}: {saying.length(move)}"
            for number, move in enumerate(found.moves_mm, 1)
        ]
        yield from (f"  {line}" for line in moves)
    if found.furthest_mm >= 0.005:
        yield from wrapped(
            f"So every setting is within tolerance, at most {saying.length(found.furthest_mm)} from where the fence "
            "would best stand."
        )


def _each(several: bool) -> str:
    return "each further setting" if several else "setting 2"


def _stacked(job: Job, piles: Sequence[Stack], settings: Settings, saying: Saying) -> Iterator[str]:
    towards = settings.fence_mm[-1] < settings.fence_mm[0]
    yield from wrapped(
        "The fewest blocks for each move of the fence, "
        + ("towards the blade: " if towards else "away from the blade: ")
        + "each starts from where the stack before has really brought the fence, so that errors don't add up."
    )
    rows = [("to setting", "move", "blocks", "off by")]
    rows += [
        (str(setting), saying.length(pile.move_mm), _blocks(pile.blocks_mm, saying), _off(pile.error_mm, saying))
        for setting, pile in enumerate(piles, 2)
    ]
    yield from _fitted(rows)
    far = [
        f"setting {setting} ({_off(pile.error_mm, saying)})"
        for setting, pile in enumerate(piles, 2)
        if not pile.within and _off(pile.error_mm, saying) != NOTHING
    ]
    if far:
        yield from wrapped(
            f"Not within tolerance, though no stack of these comes nearer: {', '.join(far)}. Set the fence there by a "
            "scale or by a scrap cut."
        )
    if far and all(pattern.tolerance_mm <= EQUAL_MM for pattern in job.patterns):
        yield from wrapped(
            "Nothing may shift, since the fence has no scale and no layout has a tolerance; with tolerance = "
            '"0.2 mm" in a layout its marks may shift so far.'
        )


def _off(mm: float, saying: Saying) -> str:
    if saying.length(abs(mm)) == saying.length(0):
        return NOTHING
    return f"{saying.length(abs(mm))} {'too far' if mm > 0 else 'short'}"


def _blocks(blocks_mm: Sequence[float], saying: Saying) -> str:
    """The blocks of a stack, alike ones together, such as "2 × 10 mm + 5 mm"."""
    alike: dict[float, int] = {}
    for length in blocks_mm:
        alike[length] = alike.get(length, 0) + 1
    return " + ".join(
        saying.length(length) if count == 1 else f"{count} × {saying.length(length)}" for length, count in alike.items()
    )


def _fitted(rows: Sequence[tuple[str, str, str, str]]) -> Iterator[str]:
    """The rows in columns where they fit a page, else each in lines of its own."""
    lines = columns(rows, right=(0,))
    if max(map(len, lines)) <= PAGE:
        yield from lines
        return
    for setting, move, blocks, off in rows[1:]:
        yield from wrapped(f"setting {setting}: {move} = {blocks}, off by {off}", "    ", "  ")
