"""Spacers instead of the scale, as a person reads them and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

from coach.plan.geometry import mark_at_fence_mm
from coach.plan.helping.spacers import Spacers, Stack, allowed_fences, spacers, stacks
from coach.plan.intervals import Interval
from coach.plan.job import EQUAL_MM, Job
from coach.plan.settings import Settings
from coach.telling.columns import columns
from coach.telling.phrases import Saying, counted, rig_words
from coach.telling.plan.totals import PAGE, wrapped

NOTHING = "next to nothing"  # less than is shown


def spacers_lines(job: Job, settings: Settings, saying: Saying) -> list[str]:
    """The spacers to make for a plan, and what stacks of one's own blocks do; in lines of a page."""
    lines = ["Spacers instead of the scale"]
    runs = _runs(settings)
    for run in runs:
        allowed = _allowed(job, settings, run)
        found = spacers(allowed)
        if len(runs) > 1:
            words = rig_words(job.shop, settings.rig(run.start))
            lines += ["", *wrapped(f"{words[0].upper()}{words[1:]}:", "")]
        if found is None:
            only = "only" if len(runs) == 1 else "with it only"
            lines += wrapped(f"There is one setting {only}: the fence never moves, and no spacer is needed.")
            continue
        lines += _to_make(job.rigged(settings.rig(run.start)), found, run.start + 1, saying)
        if job.shop.blocks:
            towards = found.fence_mm[-1] < found.fence_mm[0]
            piles = stacks(job.shop.blocks, allowed)
            lines += ["", "Stacks of your own blocks", *_stacked(job, piles, run.start + 1, saying, towards=towards)]
    return lines


def spacers_as_json(job: Job, settings: Settings) -> dict[str, Any]:
    """The same as plain JSON values; lengths in mm, settings from 1. With several rigs the moves of each follow one
    another; a change of rig is no move."""
    runs = [(run, _allowed(job, settings, run)) for run in _runs(settings)]
    made = [found for _, allowed in runs if (found := spacers(allowed)) is not None]
    piles = [
        (setting, pile)
        for run, allowed in runs
        for setting, pile in enumerate(stacks(job.shop.blocks, allowed) if job.shop.blocks else [], run.start + 2)
    ]
    return {
        "make": [{"length_mm": length, "count": count} for found in made for length, count in found.kinds],
        "fence_mm": [fence for _, allowed in runs for fence in _fences_mm(allowed)],
        "moves_mm": [move for found in made for move in found.moves_mm],
        "furthest_off_mm": max((found.furthest_mm for found in made), default=0.0),
        "stacks": [
            {
                "setting": setting,
                "move_mm": pile.move_mm,
                "blocks_mm": list(pile.blocks_mm),
                "error_mm": pile.error_mm,
                "within": pile.within,
            }
            for setting, pile in piles
        ],
    }


def _fences_mm(allowed: Sequence[Interval]) -> Sequence[float]:
    """Where the fence stands at each setting with the spacers, also where there is but one."""
    found = spacers(allowed)
    return [allowed[0].ideal] if found is None else found.fence_mm


def _runs(settings: Settings) -> list[range]:
    """The settings (indices) between which the fence is moved, rig by rig."""
    starts = [index for index in range(len(settings.fence_mm)) if settings.move_mm(index) is None]
    return [range(start, stop) for start, stop in pairwise((*starts, len(settings.fence_mm)))]


def _allowed(job: Job, settings: Settings, run: range) -> list[Interval]:
    """Where the fence may stand at each setting; at the first it stands where the walk has it, which is printed."""
    start_mm = settings.fence_mm[run.start]
    return [Interval(start_mm, start_mm, start_mm), *allowed_fences(job, settings)[run.start + 1 : run.stop]]


def _to_make(job: Job, found: Spacers, first: int, saying: Saying) -> Iterator[str]:
    """The spacers for the rig in use, whose settings begin with number `first`."""
    made = [f"{counted(count, 'spacer')} of {saying.length(length)}" for length, count in found.kinds]
    yield from wrapped(f"Make {' and '.join([', '.join(made[:-1]), made[-1]] if made[1:] else made)}.")
    fence, jig = job.shop.fence, job.shop.jig
    mark = saying.length(mark_at_fence_mm(jig, job.shop.saw.kerf_mm, found.fence_mm[0]))
    start = f"by a scrap cut that stands {mark} from its edge"
    if fence.graduation is not None:
        start = f"to {saying.on(fence).reading(found.fence_mm[0] + fence.zero_mm)}, {start},"
    towards = "towards" if found.fence_mm[-1] < found.fence_mm[0] else "away from"
    several = len(found.moves_mm) > 1
    further = "each further setting" if several else f"setting {first + 1}"
    if towards == "towards":
        between, take = ("all the spacers", "a spacer") if several else ("the spacer", "it")
        yield from wrapped(
            f"Set the fence for setting {first} {start} and clamp a stop to its rail on the "
            f"blade's side, with {between} between. For {further} take {take} out and bring the fence up."
        )
    else:
        yield from wrapped(
            f"Set the fence for setting {first} {start} and clamp a stop against it on the blade's "
            f"side. For {further} move the fence away and put {'one more' if several else 'the'} spacer between."
        )
    if len(found.kinds) > 1:
        moves = [
            f"from setting {number} to {number + 1}: {saying.length(move)}"
            for number, move in enumerate(found.moves_mm, first)
        ]
        yield from (f"  {line}" for line in moves)
    if found.furthest_mm >= 0.005:
        yield from wrapped(
            f"So every setting is within tolerance, at most {saying.length(found.furthest_mm)} from where the fence "
            "would best stand."
        )


def _stacked(job: Job, piles: Sequence[Stack], first: int, saying: Saying, *, towards: bool) -> Iterator[str]:
    yield from wrapped(
        "The fewest blocks for each move of the fence, "
        + ("towards the blade: " if towards else "away from the blade: ")
        + "each starts from where the stack before has really brought the fence, so that errors don't add up."
    )
    rows = [("to setting", "move", "blocks", "off by")]
    rows += [
        (str(setting), saying.length(pile.move_mm), _blocks(pile.blocks_mm, saying), _off(pile.error_mm, saying))
        for setting, pile in enumerate(piles, first + 1)
    ]
    yield from _fitted(rows)
    far = [
        f"setting {setting} ({_off(pile.error_mm, saying)})"
        for setting, pile in enumerate(piles, first + 1)
        if not pile.within and _off(pile.error_mm, saying) != NOTHING
    ]
    if far:
        yield from wrapped(
            f"Not within tolerance, though no stack of these comes nearer: {', '.join(far)}. Set the fence there by a "
            "scale or by a scrap cut."
        )
    if far and all(job.tolerance_mm(pattern) <= EQUAL_MM for pattern in job.patterns):
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
