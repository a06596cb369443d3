"""Setting 1 by the walk, then the page of spacers: the fence is within tolerance at every setting, as printed.

Followed as a person would, with printed numbers alone: the reading of setting 1, the mark that its scrap cut shows, the
lengths of the spacers or of the blocks. Where the fence may stand comes from the marks by the geometry derived in
DEVELOPERS.md, not from the program's ranges.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from support.small_jobs import job, joint, part, shop

from coach.ground.errors import CoachError
from coach.ground.terms import Edge, End
from coach.plan.deciding.decide import decide
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.shop.tools import Block
from coach.telling.phrases import Saying
from coach.telling.plan.spacers import spacers_as_json, spacers_lines

SLOPE = math.atan(1 / 8)
KERF_MM, WIDE_MM = 0.9, 80.0
PRINTED_MM = 0.005


def random_job(seed: int) -> Job | None:
    chance = random.Random(seed)  # noqa: S311 - no secret
    parts = []
    for number in range(chance.randint(1, 3)):
        width, tails = chance.uniform(50, 130), chance.randint(1, 4)
        half, pin = chance.uniform(4, 8), chance.uniform(2.5, 6)
        each = (width - 2 * half - (tails - 1) * pin) / tails
        marks = [half + place * (each + pin) for place in range(tails)]
        parts.append(part({End.A: joint(marks), End.B: joint(marks)}, label=f"side {number}", width_mm=width))
    blocks = (Block(25.4, 4), Block(10.0, 4), Block(5.0, 4), Block(1.0, 9), Block(0.5, 2), Block(0.1, 9))
    tools = shop(graduation_mm=chance.choice((None, "1/2", "127/160", "1")), throat_mm=900.0, front_mm=30.0)
    try:
        made = job(parts, replace(tools, blocks=blocks), tolerance_mm=chance.choice((0.1, 0.2, 0.4)))
        decide(made)
    except CoachError:
        return None
    return made


def off_mm(made: Job, settings: Settings, setting: int, fence_mm: float) -> float:
    """By how much the worst side of a setting misses its mark with the fence there, in units of its tolerance."""
    worst = 0.0
    for pattern, serving in zip(made.patterns, settings.serves, strict=True):
        for (end, tail, faces), index in serving.items():
            if index == setting:
                joint_at = pattern.ends[end]
                mark = joint_at.mark_mm(tail, faces)
                cut = (fence_mm - WIDE_MM + KERF_MM) / math.cos(SLOPE)
                socket = joint_at.socket_widths_mm(pattern.part.width_mm)[tail - 1 if faces is Edge.TOP else tail]
                room = max(0.0, (socket - KERF_MM / math.cos(SLOPE)) / 2)
                tolerance = made.tolerance_mm(pattern)
                worst = max(worst, cut - mark - tolerance, mark - cut - min(tolerance, room))
    return worst


@pytest.mark.parametrize("seed", range(60))
def test_spacers_laid_from_where_the_walk_sets_the_fence_keep_every_setting_within_tolerance(seed: int) -> None:
    made = random_job(seed)
    if made is None:
        return
    settings = decide(made)
    told = spacers_as_json(made, settings)
    start = settings.fence_mm[0]
    assert told["fence_mm"][0] == pytest.approx(start)
    way = -1 if len(settings.fence_mm) > 1 and settings.fence_mm[1] < start else 1
    fence = start
    for setting, move in enumerate(told["moves_mm"], 1):
        fence += way * move
        assert off_mm(made, settings, setting, fence) <= setting * PRINTED_MM
    fence = start
    for pile in told["stacks"]:
        fence += way * sum(pile["blocks_mm"])
        if pile["within"]:
            assert off_mm(made, settings, pile["setting"] - 1, fence) <= PRINTED_MM


def test_the_page_prints_the_reading_and_the_mark_of_the_scrap_from_which_it_starts() -> None:
    made = job([part({End.A: joint((5.0, 30.5))})], shop(graduation_mm="1/2"))
    settings = decide(made)
    page = " ".join(spacers_lines(made, settings, Saying("mm", made.shop.fence.graduation)))
    # F = 80 + 30.5·cos − 0.9 = 109.3645 goes to 109.5; that cuts at (109.5 − 79.1)·√65/8 = 30.637 mm.
    assert "Set the fence for setting 1 to 109.5 mm, by a scrap cut that stands 30.64 mm from its edge" in page
